#include "sim/unit/intake.hpp"

#include <algorithm>
#include <variant>

#include "sim/base/duration_text.hpp"

namespace emberline::unit {

namespace {

constexpr Duration kSecond = std::chrono::seconds{1};

void drop_older(std::deque<SimTime>& times, SimTime at) {
  while (!times.empty() && times.front() <= at - kSecond) times.pop_front();
}

}  // namespace

std::optional<int> read_size(const modbus::Request& request) {
  if (const auto* bits = std::get_if<modbus::ReadBits>(&request)) return (bits->range.count + 15) / 16;
  if (const auto* words = std::get_if<modbus::ReadRegisters>(&request)) return words->range.count;
  if (const auto* both = std::get_if<modbus::ReadWriteRegisters>(&request)) return both->read.count;
  return std::nullopt;
}

Intake::Intake(const IntakeSpec& spec) : spec_(spec) {}

Intake::Verdict Intake::read(int size, SimTime at, std::string_view master) {
  if (!spec_.largest_block && !spec_.reads_per_second) return {};
  drop_older(taken_, at);
  drop_older(asked_, at);
  asked_.push_back(at);
  Excess excess;
  excess.size = size;
  excess.too_long = spec_.largest_block && size > *spec_.largest_block;
  excess.too_often = spec_.reads_per_second && static_cast<int>(taken_.size()) >= *spec_.reads_per_second;
  Verdict verdict;
  if (spec_.beyond == Beyond::exception) {
    if (excess.too_long) {
      verdict.refused = modbus::Refusal::illegal_data_value;
    } else if (excess.too_often) {
      verdict.refused = modbus::Refusal::server_device_busy;
    }
  } else if (spec_.beyond == Beyond::delay) {
    put_off(excess, at, verdict);
  }
  if (!verdict.refused && !verdict.dropped) taken_.push_back(at + verdict.held_back);
  if (excess.too_long || excess.too_often) {
    overloaded_until_ = at + kWarningStands;
    ++since_journaled_;
    if (!journaled_ || at - *journaled_ >= kJournalPause) {
      verdict.sentence = sentence(excess, verdict, master);
      journaled_ = at;
      since_journaled_ = 0;
    }
  }
  return verdict;
}

void Intake::put_off(const Excess& excess, SimTime at, Verdict& verdict) {
  SimTime turn = taken_.empty() ? at : std::max(at, taken_.back());  // one after the other
  if (excess.too_often) {
    const auto reads = static_cast<std::size_t>(*spec_.reads_per_second);
    turn = std::max(turn, taken_[taken_.size() - reads] + kSecond);
  }
  if (excess.too_long) {
    const int further = (excess.size - 1) / *spec_.largest_block;
    turn += further * (spec_.reads_per_second ? kSecond / *spec_.reads_per_second : kPortion);
  }
  verdict.dropped = turn - at > kLongestWait;
  if (!verdict.dropped) verdict.held_back = turn - at;
}

std::string Intake::sentence(const Excess& excess, const Verdict& verdict, std::string_view master) {
  std::string text = "intake limit passed by " + std::string(master) + ": ";
  if (excess.too_long) {
    text += std::to_string(excess.size) + " registers in one read, " +
            std::to_string(excess.size - *spec_.largest_block) + " above the limit of " +
            std::to_string(*spec_.largest_block);
  }
  if (excess.too_often) {
    const int asked = static_cast<int>(asked_.size());
    if (excess.too_long) text += "; ";
    const int above = asked - *spec_.reads_per_second;
    const std::string limit = std::to_string(*spec_.reads_per_second);
    // Of reads that were put off, others than these can fill the second.
    text += above > 0 ? std::to_string(asked) + " reads within a second, " + std::to_string(above) +
                            " above the limit of " + limit
                      : "earlier reads, " + limit + " a second, are still being worked off";
  }
  if (verdict.refused) {
    text += excess.too_long ? "; refused with exception 03" : "; refused with exception 06 (busy)";
  } else if (verdict.dropped) {
    text += "; not answered at all";
  } else if (spec_.beyond == Beyond::delay) {
    text += "; answered " +
            format_duration(std::chrono::round<std::chrono::milliseconds>(verdict.held_back)) + " later";
  } else {
    text += "; answered all the same";
  }
  if (since_journaled_ > 1) {
    text += "; " + std::to_string(since_journaled_ - 1) + " more since the last entry about this";
  }
  return text;
}

void Intake::reset() {
  taken_.clear();
  asked_.clear();
  overloaded_until_.reset();
  journaled_.reset();
  since_journaled_ = 0;
}

}  // namespace emberline::unit

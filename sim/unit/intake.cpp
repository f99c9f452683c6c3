#include "sim/unit/intake.hpp"

#include <cassert>
#include <type_traits>
#include <variant>

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

Intake::Intake(const IntakeSpec& spec) : spec_(spec) { assert(spec.beyond != Beyond::delay); }

Intake::Verdict Intake::read(int size, SimTime at, std::string_view master) {
  if (!spec_.largest_block && !spec_.reads_per_second) return {};
  drop_older(taken_, at);
  drop_older(asked_, at);
  asked_.push_back(at);
  const bool too_long = spec_.largest_block && size > *spec_.largest_block;
  const bool too_often = spec_.reads_per_second && static_cast<int>(taken_.size()) >= *spec_.reads_per_second;
  Verdict verdict;
  if (spec_.beyond == Beyond::exception) {
    if (too_long) {
      verdict.refused = modbus::Refusal::illegal_data_value;
    } else if (too_often) {
      verdict.refused = modbus::Refusal::server_device_busy;
    }
  }
  if (!verdict.refused) taken_.push_back(at);
  if (too_long || too_often) {
    overloaded_until_ = at + kWarningStands;
    ++since_journaled_;
    if (!journaled_ || at - *journaled_ >= kJournalPause) {
      verdict.sentence = sentence(too_long, too_often, size, master);
      journaled_ = at;
      since_journaled_ = 0;
    }
  }
  return verdict;
}

std::string Intake::sentence(bool too_long, bool too_often, int size, std::string_view master) {
  std::string text = "intake limit passed by " + std::string(master) + ": ";
  if (too_long) {
    text += std::to_string(size) + " registers in one read, " + std::to_string(size - *spec_.largest_block) +
            " above the limit of " + std::to_string(*spec_.largest_block);
  }
  if (too_often) {
    const int asked = static_cast<int>(asked_.size());
    if (too_long) text += "; ";
    text += std::to_string(asked) + " reads within a second, " +
            std::to_string(asked - *spec_.reads_per_second) + " above the limit of " +
            std::to_string(*spec_.reads_per_second);
  }
  if (spec_.beyond == Beyond::accept) {
    text += "; answered all the same";
  } else {
    text += too_long ? "; refused with exception 03" : "; refused with exception 06 (busy)";
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

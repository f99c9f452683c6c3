#include "sim/polling/plan_review.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <optional>
#include <tuple>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/bench/function_table.hpp"
#include "sim/polling/plan_requests.hpp"
#include "sim/registers/address.hpp"

namespace emberline::polling {
namespace {

constexpr double kOff = 0.1;  // a tenth
/// Below this a share of the time says more about when it was begun to look than about the polling.
constexpr double kTooShort_s = 5.0;

std::string percent(double share) {
  return format_quantity(std::round(share * 1000.0) / 1000.0, Dimension::ratio);
}

std::string times_text(std::uint64_t times) { return times == 1 ? "once" : std::to_string(times) + " times"; }

/// Reads of one range that all masters together made of one slave.
struct Seen {
  int id = 0;
  std::string slave;
  int function = 0;
  int first = 0;
  int count = 0;
  std::uint64_t times = 0;
  Duration watched{};  ///< the longest of its masters; 0: too short to tell a rate
};

bool covers(const Seen& seen, const PlannedRequest& request) {
  return seen.id == request.id && seen.function == request.function && seen.first == request.range.first &&
         seen.count == request.range.count;
}

bool overlaps(const Seen& seen, const PlannedRequest& request) {
  return seen.id == request.id && seen.function == request.function &&
         seen.first < request.range.first + request.range.count &&
         request.range.first < seen.first + seen.count;
}

std::string range_text(const Seen& seen) {
  const modbus::Table table = bench::table_of(seen.function);
  return std::to_string(seen.count) + " from " +
         registers::both_ways(static_cast<std::uint16_t>(seen.first), table);
}

class Review {
 public:
  Review(const PollPlan& plan, const bench::TrafficReview& traffic)
      : plan_(plan), line_(plan.wish.bench->lines.at(plan.wish.line).name) {
    for (const bench::TrafficPair& pair : traffic.pairs) {
      if (pair.line == line_) take(pair);
    }
    const auto line = std::find_if(traffic.lines.begin(), traffic.lines.end(),
                                   [this](const bench::TrafficLine& one) { return one.line == line_; });
    if (line != traffic.lines.end()) share_ = line->time_share;
    too_short_ = share_ && *share_ > 0.0 && to_seconds(line->time_used) / *share_ < kTooShort_s;
    happened_ = line != traffic.lines.end() && line->requests > 0;
  }

  std::vector<std::string> sentences() {
    if (!happened_)
      return {"nothing came over " + line_ + ", and the plan takes " + percent(plan_.load) + " of its time"};
    sentences_.push_back("the plan takes " + percent(plan_.load) + " of " + line_ + "'s time" +
                         (too_short_ ? "; what came, came in too short a time to tell its share"
                          : share_   ? ", what came took " + percent(*share_)
                                     : "; what came is not timed on such a line"));
    bool differs = false;
    for (const PlannedRequest& request : plan_.requests) {
      const bool as_planned = request.write ? look_at_write(request) : look_at_read(request);
      differs = differs || !as_planned;
    }
    for (std::size_t i = 0; i < reads_.size(); ++i) {
      if (explained_[i]) continue;
      differs = true;
      const Seen& seen = reads_[i];
      sentences_.push_back("not in the plan: " + range_text(seen) + " of " + seen.slave + ", read " +
                           times_text(seen.times));
    }
    if (!differs) sentences_.push_back("every block read came as planned, as often as planned, and no other");
    return std::move(sentences_);
  }

 private:
  void take(const bench::TrafficPair& pair) {
    Duration watched{};
    if (pair.per_second > 0.0 && pair.requests > 1)
      watched = from_seconds(static_cast<double>(pair.requests - 1) / pair.per_second);
    for (const auto& block : pair.blocks) {
      const bool read = block.function >= 0x01 && block.function <= 0x04;
      auto& list = read ? reads_ : writes_;
      const auto known = std::find_if(list.begin(), list.end(), [&](const Seen& seen) {
        return std::tie(seen.id, seen.function) == std::tie(pair.unit_id, block.function) &&
               seen.first == block.first && seen.count == block.count;
      });
      if (known != list.end()) {
        known->times += block.times;
        known->watched = std::max(known->watched, watched);
        continue;
      }
      const std::string slave = pair.slave.empty() ? "unit id " + std::to_string(pair.unit_id) : pair.slave;
      list.push_back({pair.unit_id, slave, block.function, block.first, block.count, block.times, watched});
    }
    explained_.assign(reads_.size(), false);
  }

  /// True if it came as planned.
  bool look_at_read(const PlannedRequest& request) {
    for (std::size_t i = 0; i < reads_.size(); ++i) {
      if (!covers(reads_[i], request)) continue;
      explained_[i] = true;
      return look_at_rate(request, reads_[i]);
    }
    std::vector<std::string> parts;
    for (std::size_t i = 0; i < reads_.size(); ++i) {
      if (!overlaps(reads_[i], request) || in_plan(reads_[i])) continue;
      explained_[i] = true;
      parts.push_back(range_text(reads_[i]) + ", " + times_text(reads_[i].times));
    }
    if (parts.empty()) {
      sentences_.push_back(describe(request) + ", every " + format_duration(request.every) +
                           ", is in the plan and never came");
      return false;
    }
    std::string text = describe(request) + " came cut otherwise: ";
    for (std::size_t i = 0; i < parts.size(); ++i) text += (i == 0 ? "" : "; ") + parts[i];
    sentences_.push_back(std::move(text));
    return false;
  }

  bool look_at_rate(const PlannedRequest& request, const Seen& seen) {
    if (seen.watched <= Duration::zero()) return true;  // too short to tell
    const double expected = to_seconds(seen.watched) / to_seconds(request.every);
    const double off = static_cast<double>(seen.times) - expected;
    // Where counting begins and ends there is one more or less.
    if (std::abs(off) <= 1.0 || std::abs(off) < kOff * expected) return true;
    const double seconds = to_seconds(seen.watched) / static_cast<double>(seen.times);
    sentences_.push_back(describe(request) + " came every " + format_duration(from_seconds(seconds)) +
                         " on average, and the plan has it every " + format_duration(request.every));
    return false;
  }

  /// Whatever function writes it, and whatever else with it.
  bool look_at_write(const PlannedRequest& request) {
    const bool bits = modbus::carries_bits(request.table);
    Seen all;
    for (const Seen& seen : writes_) {
      const bool writes_bits = seen.function == 0x05 || seen.function == 0x0F;
      const bool brings_it = seen.id == request.id && writes_bits == bits &&
                             seen.first <= request.range.first &&
                             request.range.first < seen.first + seen.count;
      if (!brings_it) continue;
      all.times += seen.times;
      all.watched = std::max(all.watched, seen.watched);
    }
    if (all.times > 0) return look_at_rate(request, all);
    sentences_.push_back(describe(request) + ", every " + format_duration(request.every) +
                         ", is in the plan and never came");
    return false;
  }

  [[nodiscard]] bool in_plan(const Seen& seen) const {
    return std::any_of(plan_.requests.begin(), plan_.requests.end(), [&](const PlannedRequest& request) {
      return !request.write && covers(seen, request);
    });
  }

  const PollPlan& plan_;
  std::string line_;
  std::vector<Seen> reads_;
  std::vector<Seen> writes_;
  std::vector<bool> explained_;  ///< of each read: a sentence is about it, or it is in the plan
  std::optional<double> share_;
  bool too_short_ = false;  ///< the time between the first and the last request
  bool happened_ = false;
  std::vector<std::string> sentences_;
};

}  // namespace

std::vector<std::string> review_against(const PollPlan& plan, const bench::TrafficReview& traffic) {
  return Review(plan, traffic).sentences();
}

}  // namespace emberline::polling

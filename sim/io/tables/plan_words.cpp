#include "sim/io/tables/plan_words.hpp"

#include <cmath>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/registers/address.hpp"

namespace emberline::io {
namespace {

constexpr Duration kLongInMilliseconds = std::chrono::seconds{1};
constexpr std::int64_t kFine_ns = 10'000;       // a hundredth of a millisecond
constexpr std::int64_t kCoarse_ns = 1'000'000;  // a millisecond
constexpr std::int64_t kRounding_ns = 100;      // a bound is not made greater for this

std::int64_t step_of(Duration duration) { return duration < kLongInMilliseconds ? kFine_ns : kCoarse_ns; }

std::string in_steps(std::int64_t steps, std::int64_t step) {
  if (step == kCoarse_ns) return format_duration(Duration{steps * step});
  return format_number(static_cast<double>(steps) / 100.0) + " ms";
}

}  // namespace

std::string time_words(Duration duration) {
  const auto step = step_of(duration);
  return in_steps((duration.count() + step / 2) / step, step);
}

std::string fine_words(Duration duration) {
  return format_number(std::round(static_cast<double>(duration.count()) / 100.0) / 1e4) + " ms";
}

std::string bound_words(Duration duration) {
  const auto step = step_of(duration);
  return in_steps((duration.count() - kRounding_ns + step - 1) / step, step);
}

std::string share_words(double share) { return format_number(std::round(share * 1e4) / 100.0) + " %"; }

std::string code_words(int function) {
  constexpr const char* kDigits = "0123456789ABCDEF";
  return {kDigits[(function >> 4) & 15], kDigits[function & 15]};
}

std::string first_words(const polling::PlannedRequest& request) {
  return registers::both_ways(request.range.first, request.table);
}

std::vector<std::string> wanted_of(const polling::PollPlan& plan, const polling::PlannedRequest& request) {
  const auto& all = request.write ? plan.wish.writes : plan.wish.reads;
  std::vector<std::string> names;
  for (const auto place : request.brings) names.push_back(all.at(place).name);
  return names;
}

const bench::LineSpec& line_of(const polling::PollPlan& plan) {
  return plan.wish.bench->lines.at(plan.wish.line);
}

Duration turnaround_of(const polling::PollPlan& plan, const polling::PlannedRequest& request) {
  const auto& bench = *plan.wish.bench;
  return request.io_block ? bench.io_blocks.at(request.slave).turnaround
                          : bench.units.at(request.slave).unit.turnaround;
}

double load_of(const polling::PlannedRequest& request) {
  return to_seconds(request.exchange.whole) / to_seconds(request.every);
}

WatchdogFate fate_of(const polling::WatchdogAdvice& advice) {
  if (advice.timeout == Duration{}) return WatchdogFate::unsupervised;
  if (!advice.fed) return WatchdogFate::starves;
  return advice.timeout < advice.shortest_timeout ? WatchdogFate::too_short : WatchdogFate::kept_fed;
}

}  // namespace emberline::io

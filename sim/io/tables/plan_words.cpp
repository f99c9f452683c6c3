#include "sim/io/tables/plan_words.hpp"

#include <cmath>

#include "sim/base/quantity.hpp"
#include "sim/registers/address.hpp"

namespace emberline::io {

std::string fine_words(Duration duration) {
  return format_number(std::round(static_cast<double>(duration.count()) / 100.0) / 1e4) + " ms";
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
  if (advice.timeout >= advice.any_phase_timeout) return WatchdogFate::kept_fed;
  if (advice.walked && advice.timeout < advice.shortest_timeout) return WatchdogFate::too_short;
  return knows_phases(advice) ? WatchdogFate::these_phases_only : WatchdogFate::may_be_too_short;
}

bool knows_phases(const polling::WatchdogAdvice& advice) {
  return advice.walked && advice.comes_round && advice.death_step <= 1;
}

}  // namespace emberline::io

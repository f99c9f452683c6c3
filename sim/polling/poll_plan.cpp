#include "sim/polling/poll_plan.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <set>
#include <tuple>
#include <utility>

#include "sim/base/quantity.hpp"
#include "sim/polling/phases.hpp"
#include "sim/polling/plan_requests.hpp"
#include "sim/polling/readable.hpp"
#include "sim/polling/time_words.hpp"
#include "sim/polling/watchdog_advice.hpp"

namespace emberline::polling {
namespace {

using Requests = std::vector<PlannedRequest>;

/// Requests with their phases, and what comes of them.
struct Schedule {
  Requests requests;
  std::vector<Turn> turns;
  Course course;
};

std::vector<SlaveKey> slaves_of(const Requests& requests) {
  std::set<SlaveKey> slaves;
  for (const PlannedRequest& request : requests) slaves.insert({request.io_block, request.slave});
  return {slaves.begin(), slaves.end()};
}

std::vector<std::optional<int>> limits_of(const PollWish& wish, const std::vector<SlaveKey>& slaves) {
  std::vector<std::optional<int>> limits;
  limits.reserve(slaves.size());
  for (const SlaveKey& slave : slaves)
    limits.push_back(reads_per_second(*wish.bench, slave.io_block, slave.slave));
  return limits;
}

bool too_often(const Course& course, std::size_t slave, const std::optional<int>& limit) {
  return limit && course.within_second[slave] > static_cast<std::size_t>(*limit);
}

/// How far it is from one that fits, then how long requests wait: less is better.
auto rank_of(const Schedule& schedule, const std::vector<std::optional<int>>& limits) {
  std::size_t misses = 0;
  for (const bool missed : schedule.course.missed) misses += missed ? 1 : 0;
  std::size_t passed = 0;
  for (std::size_t s = 0; s < limits.size(); ++s) passed += too_often(schedule.course, s, limits[s]) ? 1 : 0;
  const auto& latest = schedule.course.latest;
  const Duration wait = latest.empty() ? Duration{} : *std::max_element(latest.begin(), latest.end());
  return std::tuple(misses, passed, wait);
}

Schedule schedule_of(const PollWish& wish, Requests requests) {
  const std::vector<SlaveKey> slaves = slaves_of(requests);
  const auto limits = limits_of(wish, slaves);
  std::vector<bool> limited;
  limited.reserve(limits.size());
  for (const auto& limit : limits) limited.push_back(limit.has_value());
  std::optional<Schedule> best;
  for (const Spreading spreading : {Spreading::even, Spreading::close}) {
    Schedule schedule;
    schedule.turns = turns_of(wish, requests, slaves);
    place_phases(schedule.turns, limited, spreading);
    schedule.course = course_of(schedule.turns, wish.master, std::nullopt, kMostRequests);
    if (!best || rank_of(schedule, limits) < rank_of(*best, limits)) best = std::move(schedule);
  }
  best->requests = std::move(requests);
  for (std::size_t i = 0; i < best->turns.size(); ++i) best->requests[i].phase = best->turns[i].phase;
  return std::move(*best);
}

/// Where a slave gets more reads within a second than its intake takes although their average is right,
/// fewer and longer ones may do.
Schedule with_fewer_reads(const PollWish& wish, Schedule first) {
  constexpr int kAttempts = 8;
  std::map<SlaveKey, double> tighter;
  Schedule schedule = first;
  for (int attempt = 0; attempt < kAttempts; ++attempt) {
    const std::vector<SlaveKey> slaves = slaves_of(schedule.requests);
    const auto limits = limits_of(wish, slaves);
    bool passed = false;
    for (std::size_t s = 0; s < slaves.size(); ++s) {
      if (!too_often(schedule.course, s, limits[s])) continue;
      passed = true;
      double rate = 0.0;
      for (const Turn& turn : schedule.turns) {
        if (turn.slave == s && turn.read) rate += 1.0 / to_seconds(turn.every);
      }
      tighter[slaves[s]] = rate * (1.0 - 1e-6);
    }
    if (!passed) return schedule;
    auto requests = plan_requests(wish, tighter);
    if (!requests) return first;
    schedule = schedule_of(wish, std::move(requests).value());
  }
  return first;
}

std::string percent(double share) {
  return format_quantity(std::round(share * 1000.0) / 1000.0, Dimension::ratio);
}

/// What stands in the way, as sentences.
std::vector<std::string> misfits_of(const PollPlan& plan, const Schedule& schedule,
                                    const std::vector<SlaveKey>& slaves, const std::vector<Duration>& waits) {
  std::vector<std::string> misfits;
  if (plan.load > 1.0) {
    misfits.push_back("the requests take " + percent(plan.load) +
                      " of the line's time, and there is no more than 100 %");
  }
  for (std::size_t i = 0; i < plan.requests.size(); ++i) {
    const PlannedRequest& request = plan.requests[i];
    const Duration latest = plan.walked ? schedule.course.latest[i] : waits[i];
    const bool missed = plan.walked ? schedule.course.missed[i] : latest >= request.every;
    if (!missed) continue;
    misfits.push_back(describe(request) + ", every " + time_words(request.every) +
                      ", misses periods: it begins up to " + bound_words(latest) + " late");
  }
  const auto limits = limits_of(plan.wish, slaves);
  for (std::size_t s = 0; s < slaves.size(); ++s) {
    if (!too_often(schedule.course, s, limits[s])) continue;
    const SlaveKey& key = slaves[s];
    const auto its = std::find_if(plan.requests.begin(), plan.requests.end(), [&](const PlannedRequest& one) {
      return SlaveKey{one.io_block, one.slave} == key;
    });
    misfits.push_back(its->slave_name + " gets " + std::to_string(schedule.course.within_second[s]) +
                      " reads within a second, and its intake takes " + std::to_string(*limits[s]));
  }
  return misfits;
}

void add_ages(PollPlan& plan, const Schedule& schedule, const std::vector<Duration>& waits) {
  plan.ages.resize(plan.wish.reads.size());
  for (std::size_t i = 0; i < plan.requests.size(); ++i) {
    const PlannedRequest& request = plan.requests[i];
    if (request.write) continue;
    const Duration any_phase = request.every + waits[i] + request.exchange.answer;
    const Duration worst = plan.walked ? schedule.course.ages[i] : any_phase;
    for (const std::size_t value : request.brings) plan.ages[value] = {i, worst, any_phase};
  }
}

void add_dead(PollPlan& plan, const Schedule& schedule, const std::vector<SlaveKey>& slaves) {
  for (std::size_t s = 0; s < slaves.size(); ++s) {
    const auto its = std::find_if(schedule.turns.begin(), schedule.turns.end(),
                                  [s](const Turn& turn) { return turn.slave == s; });
    DeadSlave dead;
    dead.io_block = slaves[s].io_block;
    dead.slave = slaves[s].slave;
    dead.slave_name = plan.requests[static_cast<std::size_t>(its - schedule.turns.begin())].slave_name;
    dead.full_cycle = full_cycle_of(schedule.turns, plan.wish.master, s);
    dead.load = load_of(schedule.turns, plan.wish.master, s);
    plan.dead.push_back(std::move(dead));
  }
}

}  // namespace

Result<PollPlan, std::vector<Diagnostic>> make_poll_plan(PollWish wish) {
  assert(wish.bench && wish.line < wish.bench->lines.size());
  auto requests = plan_requests(wish, {});
  if (!requests) return Failure{requests.error()};
  Schedule schedule = with_fewer_reads(wish, schedule_of(wish, std::move(requests).value()));
  const std::vector<SlaveKey> slaves = slaves_of(schedule.requests);

  PollPlan plan;
  plan.wish = std::move(wish);
  const MasterTiming& master = plan.wish.master;
  plan.requests = std::move(schedule.requests);
  plan.walked = schedule.course.whole;
  plan.load = load_of(schedule.turns, master, std::nullopt);
  plan.margin = 1.0 - plan.load;
  plan.full_cycle = full_cycle_of(schedule.turns, master, std::nullopt);
  const auto waits = waits_in_any_phase(schedule.turns, master, std::nullopt);
  for (std::size_t i = 0; i < waits.size(); ++i)
    plan.longest_wait = std::max(plan.longest_wait, plan.walked ? schedule.course.latest[i] : waits[i]);
  plan.misfits = misfits_of(plan, schedule, slaves, waits);
  plan.fits = plan.misfits.empty();
  add_ages(plan, schedule, waits);
  add_dead(plan, schedule, slaves);
  plan.watchdogs = advise(plan.wish, slaves, schedule.turns, schedule.course);
  return plan;
}

}  // namespace emberline::polling

// Plans against what happens when a stand-in carries them out on the simulated line.
#include "tests/sim/polling/stepped_plan.hpp"

#include <chrono>
#include <set>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/polling/schedule.hpp"
#include "sim/polling/watchdog_advice.hpp"
#include "tests/sim/polling/wishes.hpp"

using namespace emberline;
using namespace emberline::polling;
using namespace std::chrono_literals;
using testing::Ages;
using testing::SteppedPlan;

namespace {

struct Points {
  std::string unit;
  Duration every;
  std::vector<std::string> points;
};

const std::vector<Points> kField{
    {"soak-heater", 500ms, {"load_power", "state", "output"}},
    {"soak-heater", 2s, {"trips", "warnings", "energy"}},
    {"drying-heater", 1s, {"load_power", "state", "trips"}},
    {"cooling-heater", 1s, {"load_power", "load_current"}},
};

PollWish field_wish(int baud, const std::vector<Points>& wanted = kField) {
  bench::BenchSpec spec = testing::lehr();
  spec.lines[spec.find_line("field").value()].serial.baud = baud;
  PollWish wish = testing::wish_for(std::move(spec), "field");
  for (const Points& points : wanted) {
    for (const std::string& point : points.points)
      wish.reads.push_back(testing::want(*wish.bench, points.unit + "." + point, points.every));
  }
  return wish;
}

PollPlan plan_for(PollWish wish) {
  auto plan = make_poll_plan(std::move(wish));
  REQUIRE(plan);
  return std::move(plan).value();
}

/// The plan with the phases it must not have: all at once.
PollPlan without_phases(PollPlan plan) {
  for (PlannedRequest& request : plan.requests) request.phase = Duration::zero();
  return plan;
}

std::vector<SlaveKey> slaves_of(const PollPlan& plan) {
  std::set<SlaveKey> slaves;
  for (const PlannedRequest& request : plan.requests) slaves.insert({request.io_block, request.slave});
  return {slaves.begin(), slaves.end()};
}

/// When a unit dies for the longest gap at another, and when that gap is over.
struct Worst {
  Duration gap{};
  Duration death{};
  Duration over{};
};

Worst worst_death(const PollPlan& plan, std::size_t unit, std::size_t dead) {
  const auto slaves = slaves_of(plan);
  const auto turns = turns_of(plan.wish, plan.requests, slaves);
  const auto place = [&](std::size_t of) {
    return static_cast<std::size_t>(std::find(slaves.begin(), slaves.end(), SlaveKey{false, of}) -
                                    slaves.begin());
  };
  Worst worst;
  for (std::uint64_t after = 0; after < 12; ++after) {
    std::optional<Duration> before;
    Duration death = -1s;
    std::uint64_t answered = 0;
    (void)walk(turns, plan.wish.master, Silence{place(dead), after}, 3000, [&](const Made& made) {
      if (!made.answers) return;
      if (turns[made.turn].slave == place(dead) && ++answered == after) death = made.answered + 1ms;
      if (turns[made.turn].feeds != place(unit)) return;
      if (before && made.taken_up - *before > worst.gap)
        worst = {made.taken_up - *before, death, made.taken_up};
      before = made.taken_up;
    });
  }
  return worst;
}

}  // namespace

TEST_CASE("values on the simulated line get as old as the plan says, and no older") {
  for (const int baud : {4800, 9600, 19200, 115200}) {
    for (const bool phases : {true, false}) {
      CAPTURE(baud);
      CAPTURE(phases);
      PollWish wish = field_wish(baud);
      wish.writes.push_back(testing::want(*wish.bench, "cooling-heater.setpoint", 1s, true));
      PollPlan plan = plan_for(std::move(wish));
      CHECK(plan.walked);
      if (!phases) plan = without_phases(std::move(plan));
      const auto turns = turns_of(plan.wish, plan.requests, slaves_of(plan));
      const Course course = course_of(turns, plan.wish.master, std::nullopt, kMostRequests);
      SteppedPlan run(plan, *plan.wish.bench);
      run.run(30s);
      if (plan.fits && phases) CHECK(run.ages.refusals == 0);
      for (std::size_t i = 0; i < plan.requests.size(); ++i) {
        const PlannedRequest& request = plan.requests[i];
        CAPTURE(request.range.first);
        const auto seen = run.ages.worst.find({request.id, request.function, request.range.first});
        REQUIRE(seen != run.ages.worst.end());
        // A few nanoseconds of rounding.
        CHECK(seen->second <= course.ages[i] + 50ns);
        CHECK(seen->second >= course.ages[i] - 50ns);
        if (request.write || !phases) continue;
        for (const std::size_t value : request.brings) {
          CHECK(plan.ages[value].request == i);
          CHECK(plan.ages[value].worst == course.ages[i]);
          CHECK(plan.ages[value].worst <= plan.ages[value].worst_any_phase);
        }
      }
    }
  }
}

TEST_CASE("a watchdog set to the shortest timeout stays quiet with a neighbour dead, a shorter one trips") {
  int tried = 0;
  for (const int retries : {0, 1}) {
    PollWish wish = field_wish(19200);
    wish.master.timeout = 150ms;
    wish.master.retries = retries;
    wish.master.retry_after = 30ms;
    const PollPlan plan = plan_for(std::move(wish));
    for (const WatchdogAdvice& advice : plan.watchdogs) {
      CAPTURE(advice.unit_name);
      REQUIRE(advice.fed);
      REQUIRE_FALSE(advice.worst_neighbour.empty());
      CHECK(advice.comes_round);
      CHECK(advice.longest_gap <= advice.longest_gap_dead);
      CHECK(advice.longest_gap_dead <= advice.any_phase_gap);
      CHECK(advice.any_phase_timeout >= advice.any_phase_gap);
      CHECK(advice.any_phase_timeout < advice.any_phase_gap + 1ms);
      CHECK(advice.walked);
      CHECK(advice.shortest_timeout >= advice.longest_gap_dead);
      CHECK(advice.shortest_timeout < advice.longest_gap_dead + 1ms);
      const std::size_t dead = plan.wish.bench->find_unit(advice.worst_neighbour).value();
      const Worst worst = worst_death(plan, advice.unit, dead);
      CHECK(worst.gap == advice.longest_gap_dead);
      for (const bool long_enough : {true, false}) {
        bench::BenchSpec spec = *plan.wish.bench;
        auto& loss = spec.units[advice.unit].unit.comms_loss;
        loss.timeout = long_enough ? advice.shortest_timeout : advice.shortest_timeout - 1ms;
        SteppedPlan run(plan, std::move(spec));
        run.dies(dead, worst.death);
        run.run(worst.over + 8s);
        CHECK(run.comms_lost(advice.unit_name) == !long_enough);
        ++tried;
      }
    }
  }
  CHECK(tried == 12);
}

TEST_CASE("an overloaded line with a dead neighbour still keeps to the advice") {
  PollWish wish = field_wish(9600);
  wish.master.timeout = 700ms;  // two requests a second to the drying heater: 140 %
  const PollPlan plan = plan_for(std::move(wish));
  CHECK(plan.fits);
  for (const WatchdogAdvice& advice : plan.watchdogs) {
    CAPTURE(advice.unit_name);
    CHECK(advice.longest_gap_dead <= advice.any_phase_gap);
    bench::BenchSpec spec = *plan.wish.bench;
    spec.units[advice.unit].unit.comms_loss.timeout = advice.shortest_timeout;
    SteppedPlan run(plan, std::move(spec));
    run.dies(plan.wish.bench->find_unit(advice.worst_neighbour).value(), 4300ms);
    run.run(120s);
    CHECK_FALSE(run.comms_lost(advice.unit_name));
  }
}

TEST_CASE("a watchdog set to the bound for any phase trips by a polling with other phases than the plan's") {
  // The plan's phases shifted by what a PLC's tasks may be off, all at once, and in between.
  PollWish wish = field_wish(9600);
  wish.master.timeout = 200ms;
  const PollPlan planned = plan_for(std::move(wish));
  bool shortest_tripped = false;
  for (const int shift : {0, 1, 3, 7}) {
    PollPlan plan = planned;
    for (std::size_t i = 0; i < plan.requests.size(); ++i)
      plan.requests[i].phase =
          (plan.requests[i].phase * shift + Duration{37ms} * (static_cast<int>(i) * shift)) %
          plan.requests[i].every;
    for (const WatchdogAdvice& advice : plan.watchdogs) {
      CAPTURE(shift);
      CAPTURE(advice.unit_name);
      const std::size_t dead = plan.wish.bench->find_unit(advice.worst_neighbour).value();
      const Worst worst = worst_death(plan, advice.unit, dead);
      CHECK(worst.gap <= advice.any_phase_gap);
      for (const bool any_phase : {true, false}) {
        bench::BenchSpec spec = *plan.wish.bench;
        spec.units[advice.unit].unit.comms_loss.timeout =
            any_phase ? advice.any_phase_timeout : advice.shortest_timeout;
        SteppedPlan run(plan, std::move(spec));
        run.dies(dead, worst.death);
        run.run(worst.over + 8s);
        if (any_phase) CHECK_FALSE(run.comms_lost(advice.unit_name));
        if (!any_phase) shortest_tripped = shortest_tripped || run.comms_lost(advice.unit_name);
      }
    }
  }
  CHECK(shortest_tripped);  // or the two were one
}

TEST_CASE("a dead slave asked seldom leaves the line to the others") {
  PollWish often = field_wish(19200);
  PollWish seldom = often;
  seldom.master.poll_lost_every = 10s;
  const PollPlan plan = plan_for(std::move(seldom));
  const PollPlan other = plan_for(std::move(often));
  for (std::size_t i = 0; i < plan.dead.size(); ++i) {
    CHECK(plan.dead[i].load < other.dead[i].load);
    CHECK(plan.dead[i].load < plan.load + 0.5 / 10.0 + 1e-9);
    CHECK(plan.dead[i].full_cycle <= other.dead[i].full_cycle);
  }
  const WatchdogAdvice& advice = plan.watchdogs.at(2);
  CHECK(advice.unit_name == "cooling-heater");
  const std::size_t dead = plan.wish.bench->find_unit(advice.worst_neighbour).value();
  for (const bool long_enough : {true, false}) {
    bench::BenchSpec spec = *plan.wish.bench;
    const Worst worst = worst_death(plan, advice.unit, dead);
    spec.units[advice.unit].unit.comms_loss.timeout =
        long_enough ? advice.shortest_timeout : advice.shortest_timeout - 1ms;
    SteppedPlan run(plan, std::move(spec));
    run.dies(dead, worst.death);
    run.run(worst.over + 30s);
    CHECK(run.comms_lost(advice.unit_name) == !long_enough);
  }
}

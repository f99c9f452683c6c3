#include "sim/polling/poll_plan.hpp"

#include <algorithm>
#include <chrono>
#include <string>

#include <doctest/doctest.h>

#include "tests/sim/polling/wishes.hpp"

using namespace emberline;
using namespace emberline::polling;
using namespace std::chrono_literals;
using testing::lehr;
using testing::want;
using testing::wish_for;

namespace {

PollWish soak_wish(bench::BenchSpec spec = lehr()) {
  PollWish wish = wish_for(std::move(spec), "field");
  for (const char* point : {"load_power", "state", "output"})
    wish.reads.push_back(want(*wish.bench, std::string("soak-heater.") + point, 500ms));
  wish.reads.push_back(want(*wish.bench, "soak-heater.energy", 2s));
  wish.reads.push_back(want(*wish.bench, "drying-heater.state", 1s));
  wish.writes.push_back(want(*wish.bench, "soak-heater.setpoint", 1s, true));
  return wish;
}

PollPlan plan_of(PollWish wish) {
  auto plan = make_poll_plan(std::move(wish));
  REQUIRE(plan);
  return std::move(plan).value();
}

std::string refusal_of(PollWish wish) {
  const auto plan = make_poll_plan(std::move(wish));
  REQUIRE_FALSE(plan);
  REQUIRE(plan.error().size() == 1);
  return to_text(plan.error().front());
}

}  // namespace

TEST_CASE("a plan has writes first, then block reads by slave and address, each with what it brings") {
  const PollPlan plan = plan_of(soak_wish());
  REQUIRE(plan.requests.size() == 4);
  const PlannedRequest& write = plan.requests[0];
  CHECK(write.write);
  CHECK(write.function == 6);
  CHECK(write.slave_name == "soak-heater");
  CHECK(write.brings == std::vector<std::size_t>{0});
  const PlannedRequest& fast = plan.requests[1];
  CHECK(fast.function == 3);
  CHECK(fast.range.first == 0x41);  // state, output at 0x48, load_power at 0x47
  CHECK(fast.range.count == 8);
  CHECK(fast.bridged == 5);
  CHECK(fast.every == 500ms);
  CHECK(fast.brings == std::vector<std::size_t>{0, 1, 2});
  CHECK(plan.requests[2].range.first == 0x58);
  CHECK(plan.requests[2].range.count == 2);
  CHECK(plan.requests[3].id == 2);
  REQUIRE(plan.ages.size() == 5);
  CHECK(plan.ages[3].request == 2);
  CHECK(plan.fits);
  CHECK(plan.misfits.empty());
  // MODBUS over Serial Line V1.02, 2.5.1: 11 bits a character, t3.5 twice; 06: 8 + 8 + 7 = 23 characters a
  // second; 8 registers 8 + 21 + 7 = 36 twice; 2 registers 24 every 2 s; 1 register 22.
  CHECK(plan.load == doctest::Approx((23 + 2 * 36 + 12 + 22) * 11 / 19200.0).epsilon(1e-6));
  CHECK(plan.margin == doctest::Approx(1.0 - plan.load));
  CHECK(to_seconds(plan.full_cycle) == doctest::Approx((23 + 36 + 24 + 22) * 11 / 19200.0).epsilon(1e-6));
  REQUIRE(plan.dead.size() == 2);
  // 0.5 s for each of three requests, and the one to the other.
  CHECK(to_seconds(plan.dead[0].full_cycle) == doctest::Approx(1.5 + 22 * 11 / 19200.0).epsilon(1e-6));
  CHECK(plan.dead[0].load == doctest::Approx(0.5 * (1 + 2 + 0.5) + 22 * 11 / 19200.0).epsilon(1e-6));
}

TEST_CASE("a plan is the same each time") {
  const PollPlan one = plan_of(soak_wish());
  const PollPlan other = plan_of(soak_wish());
  for (std::size_t i = 0; i < one.requests.size(); ++i)
    CHECK(one.requests[i].phase == other.requests[i].phase);
}

TEST_CASE("a value wanted twice comes in one block, as often as the shorter period says") {
  PollWish wish = wish_for(lehr(), "field");
  wish.reads.push_back(want(*wish.bench, "soak-heater.state", 2s));
  wish.reads.push_back(want(*wish.bench, "soak-heater.state", 300ms));
  wish.writes.push_back(want(*wish.bench, "soak-heater.setpoint", 2s, true));
  wish.writes.push_back(want(*wish.bench, "soak-heater.setpoint", 700ms, true));
  const PollPlan plan = plan_of(std::move(wish));
  REQUIRE(plan.requests.size() == 2);
  CHECK(plan.requests[0].every == 700ms);
  CHECK(plan.requests[0].brings == std::vector<std::size_t>{0, 1});
  CHECK(plan.requests[1].every == 300ms);
  CHECK(plan.requests[1].brings == std::vector<std::size_t>{0, 1});
  CHECK(plan.requests[1].bridged == 0);
  CHECK(plan.ages[0].worst == plan.ages[1].worst);
}

TEST_CASE("a wish that no read can serve is refused where it stands, with what was expected") {
  PollWish wish = wish_for(lehr(), "field");
  wish.reads.push_back(want(*wish.bench, "soak-heater.energy", 1s));
  PollWish unmapped = wish;
  unmapped.reads[0].address = 0x4C;
  CHECK(
      refusal_of(std::move(unmapped)) ==
      "poll.yaml:7:3: soak-heater.energy at 0x004C (40077) cannot be read: unmapped, write-only, or half of "
      "a value that may not be split; expected a whole value that can be read");

  bench::BenchSpec small = lehr();
  small.units[0].unit.intake.largest_block = 1;
  PollWish longer = wish_for(std::move(small), "field");
  longer.reads.push_back(want(*longer.bench, "soak-heater.energy", 1s));
  CHECK(refusal_of(std::move(longer)) ==
        "poll.yaml:7:3: soak-heater.energy takes 2 registers, and soak-heater lets 1 be read at once; "
        "expected a value that one read can bring");

  PollWish half = wish_for(lehr(), "field");
  half.reads.push_back(want(*half.bench, "cooling-heater.setpoint", 1s));
  half.reads[0].count = 1;
  CHECK(refusal_of(std::move(half)).find("half of a value") != std::string::npos);

  PollWish often = wish;
  for (const char* point : {"setpoint", "state", "trips"})
    often.reads.push_back(want(*often.bench, std::string("soak-heater.") + point, 200ms));
  // 12 registers at most: three groups, 5 + 5 + 5 reads (energy rides with trips), the intake takes 5.
  CHECK(refusal_of(std::move(often)) ==
        "poll.yaml:7:3: soak-heater takes 5 reads a second, and what is wanted of it needs 15 however it is "
        "cut into block reads; expected fewer values, or longer periods");

  PollWish never = wish;
  never.reads[0].every = Duration::zero();
  CHECK(refusal_of(std::move(never)) == "poll.yaml:7:3: every: expected a time above 0 s");

  PollWish read_only = wish;
  read_only.writes.push_back(read_only.reads[0]);
  CHECK(refusal_of(std::move(read_only)).find("cannot be written; expected a coil or a holding register") !=
        std::string::npos);
}

TEST_CASE("a plan that does not fit says why, with figures") {
  bench::BenchSpec slow = lehr();
  slow.lines[slow.find_line("field").value()].serial.baud = 1200;
  const PollPlan plan = plan_of(soak_wish(std::move(slow)));
  CHECK_FALSE(plan.fits);
  // (23 + 2 x 36 + 12 + 22) x 11 / 1200 = 118.25 %
  CHECK(plan.load == doctest::Approx(1.1825).epsilon(1e-4));
  CHECK(plan.margin < 0.0);
  REQUIRE(plan.misfits.size() >= 2);
  CHECK(plan.misfits[0] == "the requests take 118.2 % of the line's time, and there is no more than 100 %");
  CHECK(plan.misfits[1].find("misses periods: it begins up to ") != std::string::npos);
  for (const std::string& misfit : plan.misfits) CHECK(misfit.find(" 0.") == std::string::npos);  // 500 ms
}

TEST_CASE("an intake limit is kept in every sliding second, or the plan says that it is not") {
  // Five reads a second and no more, from a unit that takes just so many: they must not jitter.
  bench::BenchSpec spec = lehr();
  PollWish wish = wish_for(spec, "field");
  for (const char* point : {"setpoint", "state", "trips"})
    wish.reads.push_back(want(*wish.bench, std::string("soak-heater.") + point, 1s));
  wish.reads.push_back(want(*wish.bench, "drying-heater.state", 300ms));
  const PollPlan plan = plan_of(wish);
  CHECK(plan.fits);

  spec.units[0].unit.intake.reads_per_second = 2;
  PollWish tight = wish;
  tight.bench = std::make_shared<const bench::BenchSpec>(spec);
  const auto refused = make_poll_plan(tight);
  CHECK_FALSE(refused);  // three groups a second

  // Periods that are no fractions of a second come three times within one although twice on average.
  spec.units[0].unit.intake.reads_per_second = 2;
  PollWish odd = wish_for(spec, "field");
  odd.reads.push_back(want(*odd.bench, "soak-heater.setpoint", 700ms));
  odd.reads.push_back(want(*odd.bench, "soak-heater.trips", 1900ms));
  const PollPlan passed = plan_of(odd);
  CHECK_FALSE(passed.fits);
  REQUIRE(passed.misfits.size() == 1);
  CHECK(passed.misfits[0] == "soak-heater gets 3 reads within a second, and its intake takes 2");
}

TEST_CASE("what feeds a watchdog is what the unit says feeds it") {
  bench::BenchSpec spec = lehr();
  const auto advice_of = [](bench::BenchSpec bench, bool heartbeat) {
    PollWish wish = soak_wish(std::move(bench));
    if (heartbeat) wish.writes.push_back(want(*wish.bench, "soak-heater.heartbeat", 3s, true));
    return plan_of(std::move(wish)).watchdogs.at(0);
  };
  spec.units[0].unit.comms_loss.feeds = unit::Feeds::any_request;
  CHECK(advice_of(spec, false).longest_gap <= 500ms);
  CHECK(advice_of(spec, false).timeout == 3s);
  spec.units[0].unit.comms_loss.feeds = unit::Feeds::good_request;
  CHECK(advice_of(spec, false).longest_gap <= 500ms);
  spec.units[0].unit.comms_loss.feeds = unit::Feeds::write;
  CHECK(advice_of(spec, false).longest_gap == 1s);
  CHECK(advice_of(spec, false).worst_neighbour == "drying-heater");
  spec.units[0].unit.comms_loss.feeds = unit::Feeds::heartbeat;
  CHECK_FALSE(advice_of(spec, false).fed);
  CHECK(advice_of(spec, false).shortest_timeout == Duration::zero());
  CHECK(advice_of(spec, true).fed);
  CHECK(advice_of(spec, true).longest_gap == 3s);
  spec.units[0].unit.comms_loss.lines = {"ethernet"};
  CHECK_FALSE(advice_of(spec, true).fed);
}

TEST_CASE("a plan whose schedule hardly comes round is judged by what no phase can pass") {
  PollWish wish = wish_for(lehr(), "field");
  wish.reads.push_back(want(*wish.bench, "soak-heater.state", 997ms));
  wish.reads.push_back(want(*wish.bench, "soak-heater.trips", 1009ms));
  wish.reads.push_back(want(*wish.bench, "drying-heater.state", 1013ms));
  const PollPlan plan = plan_of(std::move(wish));
  CHECK_FALSE(plan.walked);
  CHECK(plan.fits);
  for (const ValueAge& age : plan.ages) CHECK(age.worst == age.worst_any_phase);
  for (const WatchdogAdvice& advice : plan.watchdogs) {
    CHECK_FALSE(advice.walked);
    CHECK(advice.longest_gap_dead <= advice.any_phase_gap);
    CHECK(advice.shortest_timeout == advice.any_phase_timeout);
  }
}

TEST_CASE("a slave that begins to answer when nobody waits any more is planned with") {
  bench::BenchSpec spec = lehr();
  spec.units[0].unit.turnaround = 500ms;
  PollWish wish = wish_for(std::move(spec), "field");
  wish.reads.push_back(want(*wish.bench, "soak-heater.state", 1s));
  wish.reads.push_back(want(*wish.bench, "soak-heater.trips", 1s));
  PollWish waits = wish;
  waits.master.timeout = 501ms;
  CHECK(make_poll_plan(std::move(waits)));
  CHECK(
      refusal_of(std::move(wish)) ==
      "poll.yaml:7:3: soak-heater takes 500 ms before it begins to answer, and the master gives up after 500 "
      "ms; expected a longer time-out");
}

TEST_CASE("periods of days and tries of an hour pass what can be counted") {
  // Beyond 292 years whole nanoseconds wrap around: then times fall, or are below nothing.
  PollWish wish = wish_for(lehr(), "field");
  wish.master.timeout = 30min;
  wish.master.retries = 1;
  wish.master.pause = 1min;
  const Duration week = 7 * 24h;
  wish.reads.push_back(want(*wish.bench, "soak-heater.state", week));
  wish.reads.push_back(want(*wish.bench, "soak-heater.energy", week - 100ms));
  wish.reads.push_back(want(*wish.bench, "soak-heater.heartbeat", week - 1ms));
  wish.reads.push_back(want(*wish.bench, "drying-heater.state", week - 7ms));
  wish.reads.push_back(want(*wish.bench, "cooling-heater.state", 1ms));
  for (const bool seldom : {false, true}) {
    if (seldom) wish.master.poll_lost_every = 1ns;
    const PollPlan plan = plan_of(wish);
    for (std::size_t i = 0; i < plan.ages.size(); ++i) {
      CHECK(plan.ages[i].worst >= 1min);
      CHECK(plan.ages[i].worst <= plan.ages[i].worst_any_phase);
      CHECK(plan.ages[i].worst_any_phase < 3 * week);
    }
    for (const DeadSlave& dead : plan.dead) {
      CHECK(dead.full_cycle > 1h);
      CHECK(dead.full_cycle < 12h);
    }
    for (const WatchdogAdvice& advice : plan.watchdogs) {
      CHECK(advice.longest_gap > Duration::zero());
      CHECK(advice.longest_gap <= advice.any_phase_gap);
      CHECK(advice.any_phase_gap < 3 * week);
    }
  }
}

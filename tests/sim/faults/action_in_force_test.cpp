// What was done to a bench and still stands, and that each is taken back by the words it gives for that.
#include "sim/faults/action_in_force.hpp"

#include <doctest/doctest.h>

#include "sim/bench/event_loop.hpp"
#include "sim/faults/action.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

struct Watched {
  Watched() {
    bench.on_action([this](const bench::ActionDone& done) { in_force.done(done); });
  }
  void perform(const std::string& text) {
    const auto action = faults::parse_action(bench.spec(), text);
    REQUIRE_MESSAGE(action, text << ": " << (action ? "" : action.error()));
    faults::carry_out(bench, *action, SimTime{1s});
  }
  std::vector<std::string> texts() const {
    std::vector<std::string> all;
    for (const auto& entry : in_force.entries()) all.push_back(entry.text);
    return all;
  }
  static bench::BenchSpec breakable() {
    auto spec = testing::heated_bench();
    spec.units[0].heat_sink.emplace();
    spec.units[0].fuse.emplace();
    spec.zones[0].cut_out = bench::CutOutSpec{300.0, "main"};
    return spec;
  }
  bench::Bench bench{breakable()};
  faults::InForce in_force;
};

using Texts = std::vector<std::string>;

}  // namespace

TEST_CASE("a fault is not listed as standing, or its own undo does not take it off the list") {
  Watched watched;
  const auto& spec = watched.bench.spec();
  const std::string unit = spec.units[0].unit.name;
  const std::string line = spec.lines[0].name;
  const std::string zone = spec.zones[0].name;
  const Texts all = {
      "cut " + line,        "delay " + line + " by 200 ms", "open " + unit + ".terminal.enable",
      "power_off " + unit,  "stuck_busy " + unit,           "phase_lost supply.l1",
      "dip supply to 50 %", "element_open " + unit + ".l1", "thyristor_shorted " + unit + ".l1.forward",
      "fan_failed " + unit, "sensor_broken " + zone,        "speed plant to 20"};
  for (const auto& text : all) watched.perform(text);
  CHECK(watched.texts() == all);
  while (!watched.in_force.entries().empty()) {
    const auto entry = watched.in_force.entries().back();
    CAPTURE(entry.text);
    const auto left = watched.texts().size();
    watched.perform(entry.undo);
    REQUIRE(watched.texts().size() == left - 1);
    CHECK(watched.texts() == Texts(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(left - 1)));
  }
}

TEST_CASE("what takes all of a target back leaves some of it on the list, or takes others' off") {
  Watched watched;
  const auto& spec = watched.bench.spec();
  const std::string unit = spec.units[0].unit.name;
  const std::string line = spec.lines[0].name;
  watched.perform("cut " + line);
  watched.perform("delay " + line + " by 200 ms");
  watched.perform("element_open " + unit + ".l1");
  watched.perform("power_off " + unit);
  watched.perform("phase_lost supply.l1");
  watched.perform("restore " + line);
  CHECK(watched.texts() ==
        Texts{"element_open " + unit + ".l1", "power_off " + unit, "phase_lost supply.l1"});
  watched.perform("mend " + unit);
  CHECK(watched.texts() == Texts{"power_off " + unit, "phase_lost supply.l1"});
  watched.perform("mend supply");
  CHECK(watched.texts() == Texts{"power_off " + unit});
}

TEST_CASE("a wire that is bridged, or cycled, is still listed as open") {
  Watched watched;
  const std::string wire = watched.bench.spec().units[0].unit.name + ".terminal.enable";
  watched.perform("open " + wire);
  watched.perform("close " + wire);
  CHECK(watched.texts() == Texts{"close " + wire});
  watched.perform("cycle " + wire);
  CHECK(watched.texts().empty());
}

TEST_CASE("what ends by itself stays on the list after its time") {
  Watched watched;
  const std::string line = watched.bench.spec().lines[0].name;
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, watched.bench.timers());
  watched.perform("cut " + line + " for 10 s");
  CHECK(watched.texts() == Texts{"cut " + line + " for 10 s"});
  loop.run_through(SimTime{12s});
  CHECK(watched.texts().empty());
}

TEST_CASE("the journal does not tell what was done from what came of it") {
  Watched watched;
  const std::string unit = watched.bench.spec().units[0].unit.name;
  watched.perform("local " + unit + " to 40 %");
  const auto& told = watched.bench.journal().entries();
  REQUIRE_FALSE(told.empty());
  CHECK(told.back().by_action);
  CHECK(told.back().sentence == "local setpoint turned to 40 %");
  watched.bench.journal().note(SimTime{2s}, unit, "something else");
  CHECK_FALSE(told.back().by_action);
}

TEST_CASE("the knob of a unit and the speed of the plant do not take effect") {
  Watched watched;
  const std::string unit = watched.bench.spec().units[0].unit.name;
  watched.perform("local " + unit + " to 40 %");
  CHECK(watched.bench.unit(0).value(registers::Point::setpoint_local, SimTime{1s}) == doctest::Approx(0.4));
  watched.perform("speed plant to 50");
  CHECK(watched.bench.plant_speed() == 50.0);
  CHECK_FALSE(faults::parse_action(watched.bench.spec(), "speed plant to 0"));
  CHECK_FALSE(faults::parse_action(watched.bench.spec(), "speed oven to 5"));
}

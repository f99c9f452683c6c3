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

TEST_CASE("a phase that is back, or the second way of a cut cable, is not told from what still stands") {
  Watched watched;
  const std::string line = watched.bench.spec().lines[0].name;
  watched.perform("phase_lost supply.l2");
  watched.perform("phase_back supply.l2");
  CHECK(watched.texts().empty());
  watched.perform("phase_lost supply.l2");
  watched.perform("phase_back supply");
  CHECK(watched.texts().empty());
  watched.perform("cut " + line + " way to-units");
  watched.perform("cut " + line + " way to-masters");
  CHECK(watched.texts() == Texts{"cut " + line + " way to-units", "cut " + line + " way to-masters"});
  watched.perform("restore " + line + " only cut");
  CHECK(watched.texts().empty());
}

TEST_CASE("a knob that was turned twice does not go back to where it stood at first") {
  Watched watched;
  const std::string unit = watched.bench.spec().units[0].unit.name;
  watched.perform("local " + unit + " to 40 %");
  watched.perform("local " + unit + " to 60 %");
  watched.perform("speed plant to 20");
  watched.perform("speed plant to 5");
  REQUIRE(watched.texts() == Texts{"local " + unit + " to 60 %", "speed plant to 5"});
  watched.perform(watched.in_force.entries()[1].undo);
  watched.perform(watched.in_force.entries()[0].undo);
  CHECK(watched.texts().empty());
  CHECK(watched.bench.plant_speed() == 1.0);
  CHECK(watched.bench.unit(0).value(registers::Point::setpoint_local, SimTime{1s}) == 0.0);
}

TEST_CASE("the journal does not tell what was done from what came of it") {
  Watched watched;
  const std::string unit = watched.bench.spec().units[0].unit.name;
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, watched.bench.timers());
  watched.perform("local " + unit + " to 40 %");
  watched.perform("cycle " + unit + ".terminal.enable");
  loop.run_through(SimTime{3s});
  watched.perform("power_off " + unit);
  std::vector<std::string> done;
  std::vector<std::string> came_of_it;
  for (const auto& entry : watched.bench.journal().entries())
    (entry.by_action ? done : came_of_it).push_back(entry.subject + ": " + entry.sentence);
  CHECK(done == Texts{unit + ": local setpoint turned to 40 %",
                      unit + ".terminal.enable: wire opened for 1 s",
                      unit + ".terminal.enable: wire released: closed"});
  CHECK(came_of_it == Texts{unit + ": state running -> stopped: terminal enable opened",
                            unit + ": state stopped -> running: terminal enable closed",
                            unit + ": state running -> unpowered: control supply off"});
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

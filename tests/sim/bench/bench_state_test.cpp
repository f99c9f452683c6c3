#include <cmath>

#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using bench::BenchState;

namespace {

/// A unit that warms an element, through it a zone with a wall and a slow sensor, and a neighbour; its own
/// heat sink too.
bench::BenchSpec furnace() {
  auto spec = testing::heated_bench();
  auto& entry = spec.units[0];
  entry.unit.comms_loss.timeout = 0s;
  entry.unit.control.variable = unit::ControlVariable::open_loop;
  entry.load.material = plant::find_material("nickel-chromium");
  entry.element.heat_capacity_J_per_K = 3e3;
  entry.element.coupling_W_per_K = 90;
  entry.heat_sink.emplace();
  entry.load.thyristor_drop_V = 1.1;
  auto& oven = spec.zones[0].parameters;
  oven.loss_W_per_K = 2;
  oven.sensor_lag = 8s;
  oven.sensor_dead_time = 5s;
  oven.wall = plant::WallParameters{2.0, 30, 9, {{0.115, 1.1, 1900, 960}, {0.1, 0.2, 300, 1000}}};
  bench::ZoneSpec next = spec.zones[0];
  next.name = "chamber";
  next.parameters.wall.reset();
  spec.zones.push_back(next);
  spec.neighbours.push_back({0, 1, 12.0, 0.1, 0.9});
  return spec;
}

struct Running {
  bench::Bench bench;
  bench::EventLoop loop;

  explicit Running(const bench::BenchSpec& spec, std::optional<BenchState> from = {})
      : bench(spec, {1.0, 1, std::move(from)}) {
    loop.add(bench::Rank::timers, bench.timers());
    loop.add(bench::Rank::grid, bench.grid());
  }
  [[nodiscard]] double value(const char* signal) const {
    return bench.value(bench::find_signal(bench.spec(), signal).value(), loop.now());
  }
  void setpoint(unsigned permille) {
    const modbus::Bytes pdu{0x06, 0, 0, static_cast<std::uint8_t>(permille >> 8U),
                            static_cast<std::uint8_t>(permille & 0xFFU)};
    REQUIRE(bench.request(0, 1, pdu, loop.now(), "plc").pdu);
  }
  void run(Duration length) { loop.run_through(loop.now() + length); }
  void heat(Duration length) {
    setpoint(700);
    run(length);
  }
  [[nodiscard]] BenchState state() { return bench.save_state(loop.now()); }
};

}  // namespace

TEST_CASE("a run cut in two, the second half from the saved state, ends as hot as one run through") {
  // At a grid instant and at one within a mains cycle.
  for (const Duration cut : {Duration(20min), Duration(20min + 7ms)}) {
    CAPTURE(cut.count());
    Running through(furnace());
    through.heat(cut);
    Running first(furnace());
    first.heat(cut);
    Running second(furnace(), first.state());
    (void)through.state();  // registers go on showing the last mains cycle
    CHECK(second.value("oven.temperature") > 200.0);
    CHECK(second.value("oven.measured") == doctest::Approx(through.value("oven.measured")).epsilon(1e-6));
    CHECK(second.value("heater.element_temperature") ==
          doctest::Approx(through.value("heater.element_temperature")).epsilon(1e-5));
    CHECK(second.value("heater.energy") == doctest::Approx(through.value("heater.energy")).epsilon(1e-5));
    CHECK(second.value("heater.run_time") == doctest::Approx(to_seconds(cut)).epsilon(1e-3));
    // A unit just powered up: its setpoint is zero. The one that ran through is told the same.
    CHECK(second.value("heater.setpoint") == 0.0);
    through.setpoint(0);
    for (const int setpoint : {0, 400}) {
      through.setpoint(static_cast<unsigned>(setpoint));
      second.setpoint(static_cast<unsigned>(setpoint));
      for (int second_no = 0; second_no < 40; ++second_no) {
        through.run(1s);
        second.run(1s);
        for (const char* signal : {"oven.temperature", "oven.measured", "chamber.temperature",
                                   "chamber.measured", "heater.element_temperature"}) {
          CAPTURE(signal);
          // The ramp of the first one comes down from 70 % while the other begins at rest.
          CHECK(second.value(signal) == doctest::Approx(through.value(signal)).epsilon(2e-3));
        }
      }
    }
  }
}

TEST_CASE("without power the halves of a cut run agree to the tolerance of the integration") {
  Running through(furnace());
  Running first(furnace());
  for (auto* running : {&through, &first}) {
    running->heat(20min);
    running->setpoint(0);
    running->run(2s);
  }
  Running second(furnace(), first.state());
  for (int i = 0; i < 300; ++i) {
    through.run(1s);
    second.run(1s);
    for (const char* signal : {"oven.temperature", "oven.measured", "chamber.temperature", "chamber.measured",
                               "heater.element_temperature", "heater.heatsink_temperature"}) {
      CAPTURE(signal);
      CHECK(second.value(signal) == doctest::Approx(through.value(signal)).epsilon(1e-6));
    }
  }
}

TEST_CASE("what a sensor has not shown yet is shown by the run that goes on") {
  Running first(furnace());
  first.heat(10min);
  const double true_then_degC = first.value("oven.temperature");
  first.setpoint(0);
  Running second(furnace(), first.state());
  // It rose while it was heated, and the sensor, with 5 s of dead time and 8 s of lag, has yet to see that.
  const double shown_degC = second.value("oven.measured");
  CHECK(shown_degC < true_then_degC - 1.0);
  second.run(5s);
  CHECK(second.value("oven.measured") > shown_degC + 1.0);
}

TEST_CASE("a bench that starts hot accounts for the energy of its own run") {
  Running first(furnace());
  first.heat(10min);
  Running second(furnace(), first.state());
  CHECK(second.bench.heat_balance().given_J == 0.0);
  CHECK(second.bench.heat_balance().stored_J == 0.0);
  const double before_J = second.value("heater.energy");
  CHECK(before_J == doctest::Approx(first.value("heater.energy")));
  second.setpoint(500);
  second.run(30min);
  const auto heat = second.bench.heat_balance();
  CHECK(heat.given_J == doctest::Approx(second.value("heater.energy") - before_J).epsilon(1e-6));
  CHECK(heat.given_J > 1e6);
  CHECK(std::abs(heat.given_J - heat.stored_J - heat.lost_J) < 1e-5 * heat.given_J);
}

TEST_CASE("a state keeps no latch, no setpoint, no fault and no demand") {
  Running first(furnace());
  first.heat(20min);
  first.bench.change_sensor(0, {true, 0.0}, first.loop.now(), "broken");
  first.bench.open_wire(bench::find_wire(first.bench.spec(), "main").value(), first.loop.now());
  first.run(1s);
  REQUIRE(first.value("heater.demand") > 1000.0);
  REQUIRE(std::isnan(first.value("oven.measured")));
  const Running second(furnace(), first.state());
  CHECK(second.value("heater.demand") == 0.0);
  CHECK(second.value("heater.setpoint") == 0.0);
  CHECK(second.value("oven.measured") > 100.0);
  CHECK(second.value("heater.warnings") == 0.0);
}

TEST_CASE("a zone that starts above its cut-out's temperature opens the contactor at once") {
  Running first(furnace());
  first.heat(20min);
  auto spec = furnace();
  spec.zones[0].cut_out = bench::CutOutSpec{150.0, "main"};
  const Running second(spec, first.state());
  CHECK(second.value("oven.cut_out") == 1.0);
  CHECK(second.value("main.closed") == 0.0);
}

TEST_CASE("a bench that could not go on from a state says what differs") {
  Running first(furnace());
  first.heat(1s);
  const auto state = first.state();
  CHECK(bench::problems(state, furnace()).empty());
  const auto complaint = [](const BenchState& of, const bench::BenchSpec& on) {
    const auto found = bench::problems(of, on);
    REQUIRE(found.size() == 1);
    return found[0];
  };
  auto spec = furnace();
  spec.zones[1].name = "soak";
  CHECK(bench::problems(state, spec) ==
        std::vector<std::string>{"zone 'soak' of the bench is not in the state, which has oven, chamber",
                                 "zone 'chamber' of the state is not on the bench, which has oven, soak"});
  spec = furnace();
  spec.units.clear();
  CHECK(complaint(state, spec) == "unit 'heater' of the state is not on the bench, which has no units");
  spec = furnace();
  spec.zones[0].parameters.wall->layers.pop_back();
  CHECK(complaint(state, spec).starts_with("zone 'oven' has a wall of "));
  spec.zones[0].parameters.wall.reset();
  CHECK(complaint(state, spec).starts_with("zone 'oven' has no wall on the bench, and a wall of "));
  spec = furnace();
  spec.zones[1].parameters.sensor_dead_time = 3s;
  CHECK(complaint(state, spec) ==
        "zone 'chamber' has a sensor with a dead time of 3 s on the bench, and of 5 s in the state");
  spec = furnace();
  spec.units[0].element.heat_capacity_J_per_K = 0.0;
  CHECK(complaint(state, spec) ==
        "unit 'heater' has no element with a heat capacity on the bench, and the temperature of one in the "
        "state");
  auto less = state;
  less.units[0].heat_sink_degC.reset();
  CHECK(complaint(less, furnace()) ==
        "unit 'heater' has a heat sink on the bench, and no temperature of it in the state");
}

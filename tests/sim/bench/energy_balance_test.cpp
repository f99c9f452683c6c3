#include <cmath>

#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

/// A wall of fire brick, fibre and a steel shell.
plant::WallParameters wall() {
  plant::WallParameters made;
  made.area_m2 = 2.0;
  made.inside_film_W_per_m2K = 30;
  made.layers = {{0.115, 1.1, 1900, 960}, {0.1, 0.2, 300, 1000}, {0.003, 45, 7800, 480}};
  return made;
}

modbus::Bytes setpoint(unsigned tenths) {
  return {0x06, 0, 0, static_cast<std::uint8_t>(tenths >> 8U), static_cast<std::uint8_t>(tenths & 0xFFU)};
}

}  // namespace

TEST_CASE("over eight hours the energy that came in is stored or lost, to a ten-thousandth") {
  auto spec = testing::heated_bench();
  spec.units[0].unit.comms_loss.timeout = 0s;
  spec.units[0].unit.control.variable = unit::ControlVariable::open_loop;
  spec.units[0].load.material = plant::find_material("nickel-chromium");
  spec.units[0].load.connection = plant::Connection::star_3_wire;
  spec.units[0].element.heat_capacity_J_per_K = 9e3;
  spec.units[0].element.coupling_W_per_K = 20;
  spec.units[0].element.radiating_area_m2 = 0.4;
  spec.units[0].element.emissivity = 0.7;
  spec.zones[0].parameters.loss_W_per_K = 2;
  spec.zones[0].parameters.wall = wall();
  bench::Bench bench(spec);
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  // A setpoint that keeps moving, and a contactor that opens for a while.
  for (int hour = 0; hour < 8; ++hour) {
    const auto reply =
        bench.request(0, 1, setpoint(static_cast<unsigned>(150 + 83 * (hour % 4))), loop.now(), "plc");
    REQUIRE(reply.pdu);
    if (hour == 5) bench.open_wire(bench::find_wire(bench.spec(), "main").value(), loop.now());
    if (hour == 6) bench.release_wire(bench::find_wire(bench.spec(), "main").value(), loop.now());
    loop.run_through(loop.now() + 1h);
  }
  const double electrical_J =
      bench.value(bench::find_signal(bench.spec(), "heater.energy").value(), loop.now());
  const auto heat = bench.heat_balance();
  REQUIRE(electrical_J > 1e8);  // some 30 kWh
  CHECK(heat.given_J == doctest::Approx(electrical_J).epsilon(1e-6));
  CHECK(std::abs(heat.given_J - heat.stored_J - heat.lost_J) < 1e-4 * electrical_J);
  CHECK(heat.lost_J > 0.05 * electrical_J);
  CHECK(heat.stored_J > 0.05 * electrical_J);
}

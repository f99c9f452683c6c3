// A plant that goes on from another's state.
#include <chrono>
#include <cmath>
#include <numeric>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/thermal/thermal_plant.hpp"

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

using Nanoseconds = std::chrono::nanoseconds;

/// Two zones that exchange heat and one by itself in between, so that order outside is not order inside; one
/// wall; elements with and without a heat capacity, and one without a zone.
ThermalPlant furnace() {
  ZoneParameters zone;
  zone.mass_kg = 40.0;
  zone.specific_heat_J_per_kgK = 700.0;
  zone.loss_W_per_K = 6.0;
  zone.ambient_degC = 25.0;
  zone.start_degC = 400.0;
  zone.sensor_lag = 4s;
  zone.sensor_dead_time = 1500ms;
  zone.wall = WallParameters{4.0, 12.0, 9.0, {{0.025, 0.2, 130.0, 1000.0}, {0.115, 1.2, 2000.0, 900.0}}};
  ZoneParameters alone = zone;
  alone.wall.reset();
  alone.sensor_dead_time = 0s;
  alone.start_degC = 90.0;
  ZoneParameters next = zone;
  next.wall.reset();
  next.mass_kg = 2.0;
  next.sensor_dead_time = 7s;
  return {{zone, alone, next},
          {{2, 60.0, 12.0}, {0, 1500.0, 10.0, 0.4, 0.8}, {std::nullopt, 0.0, 0.0}, {1, 0.0, 0.0}},
          {{0, 2, 5.0, 0.05, 0.9}}};
}

/// Powers at a mains cycle: bursts, long stretches, and one that drifts by less than a step takes notice of.
std::vector<double> power_W(int cycle) {
  const int second = cycle / 50;
  return {cycle % 12 < 5 ? 700.0 : 0.0, second % 40 < 25 ? 12'000.0 : 1000.0, 80.0, 900.0 + 1e-5 * cycle};
}

void run(ThermalPlant& plant, int from_cycle, int to_cycle) {
  for (int cycle = from_cycle; cycle < to_cycle; ++cycle) plant.advance(20ms, power_W(cycle));
}

double off_balance_J(const ThermalPlant& plant) {
  return plant.given_J() - plant.stored_J() - plant.lost_J();
}

}  // namespace

TEST_CASE("a plant that goes on from a saved state gets as hot as the one that was not stopped") {
  // Cut at the end of a second, within a burst, and at an odd instant within a mains cycle.
  for (const auto& [cycles, more] :
       {std::pair(3000, 0ns), std::pair(3008, 0ns), std::pair(2999, 7'300'001ns)}) {
    CAPTURE(cycles);
    auto one = furnace();
    run(one, 0, cycles);
    one.advance(more, power_W(cycles));
    auto two = furnace();
    two.begin_at(one.state());
    for (int cycle = cycles; cycle < cycles + 3000; ++cycle) {
      for (std::size_t zone = 0; zone < 3; ++zone) {
        CAPTURE(cycle);
        CAPTURE(zone);
        REQUIRE(two.zone_degC(zone) == doctest::Approx(one.zone_degC(zone)).epsilon(1e-6));
        REQUIRE(two.measured_degC(zone) == doctest::Approx(one.measured_degC(zone)).epsilon(1e-6));
      }
      for (std::size_t element = 0; element < 4; ++element)
        REQUIRE(two.element_degC(element) == doctest::Approx(one.element_degC(element)).epsilon(1e-6));
      for (const double depth_m : {0.0, 0.02, 0.1})
        REQUIRE(two.wall_degC(0, depth_m) == doctest::Approx(one.wall_degC(0, depth_m)).epsilon(1e-6));
      one.advance(20ms, power_W(cycle));
      two.advance(20ms, power_W(cycle));
    }
  }
}

TEST_CASE("heat is counted anew from a saved state, and what came in is still stored or lost") {
  auto one = furnace();
  run(one, 0, 4000);
  const double before_J = one.stored_J();
  auto two = furnace();
  two.begin_at(one.state());
  CHECK(two.given_J() == 0.0);
  CHECK(two.lost_J() == 0.0);
  CHECK(two.stored_J() == 0.0);
  run(one, 4000, 16'000);
  run(two, 4000, 16'000);
  CHECK(two.given_J() > 1e6);
  CHECK(std::abs(off_balance_J(two)) < 1e-6 * two.given_J());
  CHECK(two.stored_J() == doctest::Approx(one.stored_J() - before_J).epsilon(1e-6));
}

TEST_CASE("what a sensor has yet to show is as long as its dead time and survives being saved twice") {
  auto one = furnace();
  run(one, 0, 1234);
  one.advance(7'300'001ns, power_W(0));
  const auto length = [](const ThermalState::Zone& zone) {
    return std::accumulate(zone.sensor.on_its_way.begin(), zone.sensor.on_its_way.end(), Nanoseconds{},
                           [](Nanoseconds sum, const Stretch& stretch) { return sum + stretch.length; });
  };
  const auto state = one.state();
  CHECK(length(state.zones[0]) == 1500ms);
  CHECK(length(state.zones[1]) == 0s);
  CHECK(length(state.zones[2]) == 7s);
  // Told in fewer stretches than the calls they came in.
  CHECK(state.zones[0].sensor.on_its_way.size() < 20);
  auto two = furnace();
  two.begin_at(state);
  auto three = furnace();
  three.begin_at(two.state());
  // The sensor of the third zone still shows what was there seven seconds ago: nothing that comes now.
  const std::vector<double> cold(4, 0.0);
  for (int i = 0; i < 340; ++i) {
    one.advance(20ms, power_W(i));
    three.advance(20ms, cold);
  }
  CHECK(std::abs(one.zone_degC(2) - three.zone_degC(2)) > 0.5);
  CHECK(three.measured_degC(2) == doctest::Approx(one.measured_degC(2)).epsilon(1e-7));
}

TEST_CASE("an undisturbed plant has its sensors' future in one stretch") {
  auto plant = furnace();
  const auto state = plant.state();
  REQUIRE(state.zones[2].sensor.on_its_way.size() == 1);
  CHECK(state.zones[2].sensor.on_its_way[0].length == 7s);
  CHECK(state.zones[2].sensor.on_its_way[0].end_degC == 400.0);
}

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include "plant-models/thermal/thermal_plant.hpp"
#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "tests/bench/small_bench.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;
using Clock = std::chrono::steady_clock;

plant::WallParameters three_layers() {
  plant::WallParameters wall;
  wall.area_m2 = 2.4;
  wall.inside_film_W_per_m2K = 40;
  wall.layers = {{0.115, 0.9, 1500, 1000}, {0.1, 0.25, 500, 1000}, {0.004, 45, 7800, 480}};
  return wall;
}

/// The small bench with a load on three wires and a zone behind a wall of three layers.
bench::BenchSpec three_wire_bench(unit::FiringMode firing) {
  auto spec = small_bench(firing);
  spec.units.front().load.connection = plant::Connection::star_3_wire;
  spec.zones.front().parameters.loss_W_per_K = 0;
  spec.zones.front().parameters.wall = three_layers();
  return spec;
}

/// The same many times over behind one supply, each unit with a zone of its own. Ids repeat on lines of their
/// own.
bench::BenchSpec many(int count, unit::FiringMode firing, double source_ohm) {
  auto spec = three_wire_bench(firing);
  const auto line = spec.lines.front();
  const auto zone = spec.zones.front();
  const auto unit = spec.units.front();
  spec.supply.resistance_ohm = source_ohm;
  spec.lines.clear();
  spec.zones.clear();
  spec.units.clear();
  for (int n = 0; n < count; ++n) {
    const auto number = std::to_string(n);
    spec.lines.push_back(line);
    spec.lines.back().name += number;
    spec.zones.push_back(zone);
    spec.zones.back().name += number;
    spec.units.push_back(unit);
    auto& entry = spec.units.back();
    entry.unit.name += number;
    entry.unit.lines = {spec.lines.back().name};
    entry.unit.comms_loss.lines = entry.unit.lines;
    entry.heats = spec.zones.back().name;
  }
  return spec;
}

/// Runs a bench, its units at 40 to 60 % of their setpoints, for `length` after a time to settle, and says
/// how much faster than the clock that was.
double run(const char* what, bench::BenchSpec spec, Duration settle, Duration length) {
  bench::Bench bench(std::move(spec));
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  for (std::size_t line = 0; line < bench.spec().lines.size(); ++line) {
    const auto tenths = static_cast<unsigned>(400 + line * 37 % 200);
    const modbus::Bytes write{0x06, 0x00, 0x00, static_cast<std::uint8_t>(tenths >> 8U),
                              static_cast<std::uint8_t>(tenths & 0xFFU)};
    const auto reply = bench.request(line, kUnitId, write, loop.now(), "bench");
    if (reply.pdu && *reply.pdu == write) continue;
    std::fprintf(stderr, "the setpoint was not taken\n");
    std::exit(1);
  }
  loop.run_through(SimTime{settle});
  const auto start = Clock::now();
  loop.run_through(SimTime{settle + length});
  const std::chrono::duration<double> took = Clock::now() - start;
  const double times = to_seconds(length) / took.count();
  std::printf("  %-62s %8.3f s for %6.0f s, %9.1f times the clock\n", what, took.count(), to_seconds(length),
              times);
  return times;
}

/// The floor: a linear chain of as many temperatures as the bench has, moved on once a second by the same
/// stepper and nothing else.
double bare_odeint(std::size_t states, Duration length) {
  namespace odeint = boost::numeric::odeint;
  using State = std::vector<double>;
  State state(states, 20.0);
  const auto chain = [states](const State& at, State& out, double) {
    out[0] = 0.02 - 0.01 * (at[0] - at[1]);
    for (std::size_t i = 1; i + 1 < states; ++i) out[i] = 0.01 * (at[i - 1] - 2.0 * at[i] + at[i + 1]);
    out[states - 1] = 0.01 * (at[states - 2] - at[states - 1]) - 0.001 * (at[states - 1] - 20.0);
  };
  odeint::runge_kutta_dopri5<State> stepper;
  const auto steps = static_cast<int>(to_seconds(length));
  const auto start = Clock::now();
  for (int step = 0; step < steps; ++step) stepper.do_step(chain, state, static_cast<double>(step), 1.0);
  const std::chrono::duration<double> took = Clock::now() - start;
  const double times = to_seconds(length) / took.count();
  std::printf("  %-62s %8.3f s for %6.0f s, %9.1f times the clock (ends at %.1f)\n",
              ("bare Odeint, " + std::to_string(states) + " temperatures, a step a second").c_str(),
              took.count(), to_seconds(length), times, state[0]);
  return times;
}

}  // namespace

void plant_speed() {
  using unit::FiringMode;
  std::printf("\nOne three-phase unit and its zone, nobody asking\n");
  run("star with neutral, steady phase angle", small_bench(FiringMode::phase_angle), hours{1}, hours{2});
  run("star with neutral, spread bursts", small_bench(FiringMode::burst_spread), seconds{10}, hours{1});
  const double ours = run("three wires, wall of three layers, steady phase angle",
                          three_wire_bench(FiringMode::phase_angle), hours{1}, hours{2});
  run("three wires, wall of three layers, spread bursts", three_wire_bench(FiringMode::burst_spread),
      seconds{10}, minutes{10});
  const double floor = bare_odeint(32, hours{1});
  std::printf("  three wires in steady phase angle against the bare loop: %.2f\n", ours / floor);
}

void many_units() {
  using unit::FiringMode;
  std::printf("\n1000 units on three wires, each with a zone behind a wall of three layers, on one core\n");
  run("phase angle, stiff supply", many(1000, FiringMode::phase_angle, 0.0), seconds{3}, minutes{1});
  run("phase angle, behind one source, each seeing the others", many(1000, FiringMode::phase_angle, 8e-6),
      seconds{3}, minutes{1});
  run("spread bursts, stiff supply", many(1000, FiringMode::burst_spread, 0.0), seconds{3}, seconds{20});
}

}  // namespace emberline::speed

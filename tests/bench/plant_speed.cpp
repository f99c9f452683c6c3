#include <chrono>
#include <cstdio>
#include <cstdlib>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "tests/bench/small_bench.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

/// Runs one unit at half its setpoint for an hour and says how long that took. The ramp is over before.
void an_hour(const char* what, unit::FiringMode firing) {
  using std::chrono::hours;
  using std::chrono::seconds;
  bench::Bench bench(small_bench(firing));
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  const modbus::Bytes half{0x06, 0x00, 0x00, 0x01, 0xF4};  // setpoint := 500 x 0.1 %
  const auto reply = bench.request(0, kUnitId, half, loop.now(), "bench");
  if (!reply.pdu || *reply.pdu != half) {
    std::fprintf(stderr, "the setpoint was not taken\n");
    std::exit(1);
  }
  constexpr SimTime kSteady{seconds{10}};
  loop.run_through(kSteady);
  const auto start = std::chrono::steady_clock::now();
  loop.run_through(kSteady + hours{1});
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
  std::printf("  %-40s %8.3f s, %.0f times faster than the clock\n", what, took.count(), 3600 / took.count());
}

}  // namespace

void plant_speed() {
  std::printf("\nOne simulated hour of one three-phase unit and its zone, nobody asking\n");
  an_hour("phase angle, steady (grid of 100 ms)", unit::FiringMode::phase_angle);
  an_hour("spread bursts (grid of one mains cycle)", unit::FiringMode::burst_spread);
}

}  // namespace emberline::speed

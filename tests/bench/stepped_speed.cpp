#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <string>

#include "sim/io/master/stepped_masters.hpp"
#include "sim/rehearsal/target.hpp"
#include "tests/bench/small_bench.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;

/// A stand-in that reads the unit's ten registers, one block, every 10 ms.
rehearsal::MasterSpec polling_master(const bench::BenchSpec& spec) {
  rehearsal::ProgramStep step;
  step.every = milliseconds{10};
  for (const char* point : {"setpoint", "output", "load_current_l1", "load_current_l2", "load_current_l3",
                            "load_voltage", "load_power", "supply_voltage", "state", "warnings"}) {
    const auto target = rehearsal::resolve_target(spec, std::string(kUnit) + "." + point, false);
    if (!target) {
      std::fprintf(stderr, "%s\n", target.error().c_str());
      std::exit(1);
    }
    step.reads.push_back(*target);
  }
  rehearsal::MasterSpec master;
  master.name = "plc";
  master.lines = {kLine};
  master.program.push_back(step);
  return master;
}

struct Took {
  double seconds;
  std::uint64_t transactions;
};

Took run(bool with_master) {
  constexpr SimTime kEnd{seconds{200}};
  bench::Bench bench(small_bench(unit::FiringMode::phase_angle));
  bench::EventLoop loop;
  std::optional<io::SteppedMasters> masters;
  if (with_master) {
    masters.emplace(bench, std::vector{polling_master(bench.spec())});
    loop.add(bench::Rank::frames, masters->wire());
    loop.add(bench::Rank::stand_ins, masters->stand_ins());
  }
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  const auto start = std::chrono::steady_clock::now();
  loop.run_through(kEnd);
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
  std::uint64_t transactions = 0;
  if (masters) {
    masters->finish();
    transactions = masters->transactions();
  }
  return {took.count(), transactions};
}

}  // namespace

void stepped_speed() {
  std::printf("\nStepped clock, one stand-in, 10 registers a transaction\n");
  for (int round = 1; round <= 3; ++round) {
    const auto alone = run(false);
    const auto polled = run(true);
    const double each_us = (polled.seconds - alone.seconds) * 1e6 / static_cast<double>(polled.transactions);
    std::printf("  run %d: %llu transactions in %.2f s, %.1f us each (the plant's own %.0f ms taken off)\n",
                round, static_cast<unsigned long long>(polled.transactions), polled.seconds, each_us,
                alone.seconds * 1e3);
  }
}

}  // namespace emberline::speed

#pragma once

#include <chrono>
#include <string>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "tests/fuzz/fuzz.hpp"

namespace emberline::fuzz {

/// A shipped bench, "cure-oven.yaml", read once.
inline bench::BenchSpec shipped_bench(const std::string& name) {
  auto spec = io::load_bench(EMBERLINE_SOURCE_DIR "/config/benches/" + name);
  must(spec.has_value(), "a shipped bench loads");
  return std::move(spec).value();
}

/// A bench that is told things as one on the wall clock is, in stepped time: WallBench is linked from
/// stepped_wall.cpp, without lines, threads and clock.
struct SteppedBench {
  explicit SteppedBench(const bench::BenchSpec& spec) : bench(spec), wall(bench, loop, {}) {
    loop.add(bench::Rank::timers, bench.timers());
    loop.add(bench::Rank::grid, bench.grid());
  }
  /// What was posted is done, then time moves on.
  void step(Duration by);

  bench::Bench bench;
  bench::EventLoop loop;
  io::WallBench wall;
};

}  // namespace emberline::fuzz

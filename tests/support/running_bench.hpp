#pragma once

#include <algorithm>
#include <string>
#include <utility>

#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"

namespace emberline::testing {

/// A bench with its loop in stepped time, for tests that say themselves when what is asked.
struct RunningBench {
  explicit RunningBench(bench::BenchSpec spec, const bench::Bench::Options& options = {})
      : bench(std::move(spec), options) {
    loop.add(bench::Rank::timers, bench.timers());
    loop.add(bench::Rank::grid, bench.grid());
  }
  void to(Duration time) { loop.run_through(SimTime{time}); }
  /// Of a signal by its name.
  [[nodiscard]] double value(const std::string& name) const {
    const auto id = bench::find_signal(bench.spec(), name);
    REQUIRE_MESSAGE(id, name);
    return bench.value(*id, loop.now());
  }
  [[nodiscard]] bool journal_says(const std::string& part) {
    const auto& entries = bench.journal().entries();
    return std::any_of(entries.begin(), entries.end(), [&](const bench::Journal::Entry& entry) {
      return entry.sentence.find(part) != std::string::npos;
    });
  }
  bench::Bench bench;
  bench::EventLoop loop;
};

}  // namespace emberline::testing

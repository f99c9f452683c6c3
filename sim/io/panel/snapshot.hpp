#pragma once

#include <optional>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/io/panel/hub_facts.hpp"

namespace emberline::io {

/// A bench at one instant, as numbers: all that is copied on the bench's thread for pages and trends.
struct Snapshot {
  struct Unit {
    unit::Watchdog::Settings watchdog;
    bool armed = false;
    bool lost = false;
    bool latched = false;
    Duration age{};
    Duration longest_gap{};
    std::optional<SimTime> due;         ///< when comms will be lost if nothing feeds
    std::vector<unit::NextStep> steps;  ///< empty while nothing stands in the unit's way
  };
  SimTime at;
  double plant_speed = 1.0;
  std::vector<double> values;  ///< one for each of BenchFacts::signals
  std::vector<Unit> units;

  [[nodiscard]] double point(const BenchFacts& facts, std::size_t unit, registers::Point point) const {
    return values[facts.units[unit].points + static_cast<std::size_t>(point)];
  }
  [[nodiscard]] bool on(std::size_t place) const { return values[place] != 0.0; }
  [[nodiscard]] registers::State state(const BenchFacts& facts, std::size_t unit) const {
    return static_cast<registers::State>(point(facts, unit, registers::Point::state));
  }
};

/// Takes one; on the bench's thread. `into` keeps its memory.
void take_snapshot(const bench::Bench& bench, const BenchFacts& facts, SimTime at, Snapshot& into);

}  // namespace emberline::io

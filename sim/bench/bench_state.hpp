#pragma once

#include <optional>
#include <string>
#include <vector>

#include "plant-models/thermal/thermal_state.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"

namespace emberline::bench {

/// How hot a bench is and what its counters show, so that a later run starts there: a hot furnace without the
/// hours it takes. Nothing else is kept: no latch, no fault, no setpoint, no learned load; the run starts
/// with units just powered up, wires and lines as the bench's file says, averages and demand anew. A zone
/// that is above its cut-out's temperature makes it act at once.
struct BenchState {
  struct Zone {
    std::string name;
    plant::ThermalState::Zone heat;
  };
  struct Unit {
    std::string name;
    std::optional<double> element_degC;    ///< of an element with a heat capacity of its own
    std::optional<double> heat_sink_degC;  ///< of a unit with a heat sink
    double energy_J = 0.0;                 ///< counted so far
    Duration run_time{};
  };
  std::string bench;  ///< title of the bench it is of
  SimTime taken_at;   ///< in the run that it was taken from
  std::vector<Zone> zones;
  std::vector<Unit> units;
};

/// The element of a unit that has a heat capacity of its own, and so a temperature that its zone does not
/// tell.
[[nodiscard]] bool has_warm_element(const UnitEntry& unit);

/// Why a bench cannot start from this state, one line each; empty if it can. It has to have the zones and
/// units of the state, and what their heat is kept by alike: the dead times of sensors, how many cells a wall
/// is cut into, elements and heat sinks with a heat capacity. All else may have changed.
[[nodiscard]] std::vector<std::string> problems(const BenchState& state, const BenchSpec& spec);

}  // namespace emberline::bench

#pragma once

#include <string>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::bench {

/// How hot a bench is and what its meters show, so that a later run starts there: a hot furnace without the
/// hours it takes. Nothing else is kept: no latch, no fault, no setpoint; the run starts with units just
/// powered up, wires and lines as the bench's file says.
struct BenchState {
  struct Zone {
    std::string name;
    std::vector<double> temperatures_degC;  ///< as the thermal plant orders them: zone, wall, sensor, ...
  };
  struct Unit {
    std::string name;
    std::vector<double> elements_degC;  ///< of its elements; empty: they have their zone's temperature
    double energy_J = 0.0;
    double run_time_s = 0.0;
  };
  std::vector<Zone> zones;
  std::vector<Unit> units;
};

}  // namespace emberline::bench

#pragma once

#include <vector>

#include "plant-models/thermal/sensor.hpp"

namespace emberline::plant {

/// How hot a thermal plant is at an instant: everything its future depends on besides the powers to come.
struct ThermalState {
  struct Zone {
    double temperature_degC = 20.0;
    std::vector<double> wall_degC;  ///< its cells, from the inside out; empty without a wall
    Sensor::State sensor;
  };
  std::vector<Zone> zones;            ///< in the order of the plant's
  std::vector<double> elements_degC;  ///< in the order of the plant's; of those that are as their zone is, or
                                      ///< have none, the plant takes no notice
};

}  // namespace emberline::plant

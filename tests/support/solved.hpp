#pragma once

#include <array>
#include <vector>

#include "plant-models/electrical/network.hpp"

/// One cycle of a network whose supply has nothing wrong.
inline emberline::plant::NetworkResult solved(emberline::plant::Network& network,
                                              const std::vector<emberline::plant::Conduction>& states) {
  emberline::plant::NetworkResult result;
  network.solve({}, states, result);
  return result;
}
inline emberline::plant::NetworkResult solved(emberline::plant::Network&& network,
                                              const std::vector<emberline::plant::Conduction>& states) {
  return solved(network, states);
}

/// The same value for each leg.
inline std::array<double, 3> alike(double value) { return {value, value, value}; }

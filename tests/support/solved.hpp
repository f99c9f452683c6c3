#pragma once

#include <array>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"

/// A cycle of a network with these states for ever: the first one that ends as it began. After 200 cycles (4
/// s at 50 Hz) the last one, settled or not.
inline emberline::plant::NetworkResult solved(emberline::plant::Network& network,
                                              const std::vector<emberline::plant::Conduction>& states,
                                              const emberline::plant::SupplyState& supply = {}) {
  emberline::plant::NetworkResult result;
  network.solve(supply, states, result);
  for (int cycle = 0; cycle < 200 && !network.settled(); ++cycle) {
    network.next_cycle();
    network.solve(supply, states, result);
  }
  CHECK(network.gave_up() == 0);
  return result;
}
inline emberline::plant::NetworkResult solved(emberline::plant::Network&& network,
                                              const std::vector<emberline::plant::Conduction>& states,
                                              const emberline::plant::SupplyState& supply = {}) {
  return solved(network, states, supply);
}

/// The same value for each leg.
inline std::array<double, 3> alike(double value) { return {value, value, value}; }

inline double total_W(const emberline::plant::LoadResult& result) {
  return result.legs[0].power_W + result.legs[1].power_W + result.legs[2].power_W;
}

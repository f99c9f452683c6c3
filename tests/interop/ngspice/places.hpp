#pragma once

#include <cstddef>
#include <string>
#include <utility>

#include "plant-models/electrical/load.hpp"

namespace emberline::spice {

/// Lines between which a leg (delta: a pair of thyristors) lies, 0 to 2.
struct Ends {
  int plus;
  int minus;  ///< -1: the neutral
};
[[nodiscard]] Ends ends_of(const plant::LoadParameters& load, std::size_t leg);

/// Node of a line at the busbar; -1: the neutral.
[[nodiscard]] std::string bus(int line);
/// What is in all names of a leg.
[[nodiscard]] std::string name_of(std::size_t load, std::size_t leg);
/// The nodes between which the elements of a leg lie, behind the thyristors.
[[nodiscard]] std::pair<std::string, std::string> nodes_of(const plant::LoadParameters& load,
                                                           std::size_t index, std::size_t leg);

}  // namespace emberline::spice

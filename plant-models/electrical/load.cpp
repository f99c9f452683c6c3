#include "plant-models/electrical/load.hpp"

#include <cassert>
#include <limits>

namespace emberline::plant {

double leg_resistance_ohm(const LoadParameters& load, std::size_t leg, double element_degC,
                          const LegState& state) {
  assert(load.material != nullptr && leg < 3);
  const double one =
      load.cold_resistance_ohm[leg] * resistance_ratio(*load.material, element_degC) * state.ageing;
  if (load.grouping == Grouping::series)
    return state.elements_open > 0 ? std::numeric_limits<double>::infinity() : one * load.elements;
  const int left = load.elements - state.elements_open;
  return left > 0 ? one / left : std::numeric_limits<double>::infinity();
}

}  // namespace emberline::plant

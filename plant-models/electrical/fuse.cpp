#include "plant-models/electrical/fuse.hpp"

#include <cmath>

namespace emberline::plant {

bool Fuse::pass(double length_s, double current_A) {
  if (melted_) return false;
  const double square = current_A * current_A;
  const double rated = parameters_.rating_A * parameters_.rating_A;
  const double end = square / rated;  // where the heat is going
  heat_ = end + (heat_ - end) * std::exp(-length_s * rated / parameters_.melting_A2s);
  melted_ = heat_ >= 1.0;
  return melted_;
}

void Fuse::replace() {
  melted_ = false;
  heat_ = 0.0;
}

}  // namespace emberline::plant

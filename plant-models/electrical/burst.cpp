#include "plant-models/electrical/burst.hpp"

namespace emberline::plant {
namespace {
/// Ten times 0.1 is a little less than 1 in binary: a cycle owed but for this much is given.
constexpr double kRounding = 1e-9;
}  // namespace

bool SpreadBurst::next_cycle(double duty) {
  // The ends do not touch the remainder, so that no rounding of it can ever drop or add a cycle there.
  if (!(duty > 0.0)) return false;
  if (duty >= 1.0) return true;
  owed_ += duty;
  if (owed_ < 1.0 - kRounding) return false;
  owed_ -= 1.0;
  return true;
}

void SpreadBurst::reset() { owed_ = 0.0; }

}  // namespace emberline::plant

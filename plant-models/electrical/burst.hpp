#pragma once

namespace emberline::plant {

/// Zero-crossing firing by evenly spread whole cycles: a first-order error accumulator decides for every
/// mains cycle whether it is passed on, so that after any number of cycles the energy given is within one
/// cycle of the energy asked.
class SpreadBurst {
 public:
  /// Whether the cycle that begins now conducts, at this duty (0 to 1; 0 never, 1 always).
  bool next_cycle(double duty);
  /// Forgets the remainder, as when the unit goes off.
  void reset();

 private:
  double owed_ = 0.0;
};

}  // namespace emberline::plant

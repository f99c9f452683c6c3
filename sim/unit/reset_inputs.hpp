#pragma once

namespace emberline::unit {

/// Turns the levels of enable terminal, reset terminal and reset register into resets that began and ended
/// after step (1) of a latch. A level held from before does not count later:
///  - the enable terminal has to open and close again, both after (1);
///  - the reset terminal has to close after (1), so it was open at (1) or has opened since;
///  - the reset register has to be written 1 over a 0 after (1).
class ResetInputs {
 public:
  enum class Seen {
    nothing,       ///< no edge, or not the one that resets
    too_early,     ///< the edge came before step (1)
    begun_before,  ///< the edge ended after step (1) but began before it
    reset,
  };
  /// Step (1) is done: edges begin to count.
  void comms_back();
  /// Back before step (1).
  void forget();
  /// Levels as after a power-up of the unit: the register is 0, terminals are as they are wired.
  void power_cycled();

  Seen enable(bool closed);
  Seen reset_terminal(bool closed);
  Seen reset_register(bool one);

  [[nodiscard]] bool register_level() const { return register_one_; }

 private:
  bool counting_ = false;
  bool enable_closed_ = true;
  bool reset_closed_ = false;
  bool register_one_ = false;
  bool enable_opened_ = false;  ///< an opening was seen (after (1): since (1))
};

}  // namespace emberline::unit

#pragma once

namespace emberline::unit {

/// Turns the levels of enable terminal, reset terminal and reset register into resets that began and ended
/// after the cause of a latch had gone: of comms loss that is step (1). A level held from before does not
/// count later:
///  - the enable terminal has to open and close again, both after the cause had gone;
///  - the reset terminal has to close after it, so it was open then or has opened since;
///  - the reset register has to be written 1 over a 0 after it.
/// One latch needs one of these: all are told every level, whether anything is latched or not.
class ResetInputs {
 public:
  enum class Seen {
    nothing,       ///< no edge, or not the one that resets
    too_early,     ///< the cause is still there
    begun_before,  ///< the edge ended after the cause had gone but began before
    reset,
  };
  /// Edges begin to count.
  void cause_gone();
  /// The cause is there (again), or nothing is latched.
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
  bool enable_opened_ = false;  ///< an opening was seen; while edges count: since they do
};

}  // namespace emberline::unit

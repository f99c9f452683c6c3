#pragma once

#include "sim/registers/point.hpp"

namespace emberline::unit {

/// What the state of the output depends on.
struct Conditions {
  bool powered = true;
  bool starting = false;
  bool tripped = false;  ///< a protection has latched
  bool latched = false;  ///< the comms-loss watchdog has latched
  bool enabled = true;   ///< terminal enable closed
  bool at_preset = false;
  bool holding = false;
};

/// The state when several apply:
/// unpowered > starting > tripped > inhibited > stopped > preset > holding > running.
[[nodiscard]] registers::State decide_state(const Conditions& conditions);
/// True for states in which the unit answers its masters: all but unpowered and starting.
[[nodiscard]] bool answers(registers::State state);
/// True for states in which the output may be above 0: running, holding and preset.
[[nodiscard]] bool delivers(registers::State state);

}  // namespace emberline::unit

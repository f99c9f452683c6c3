#include "sim/unit/state.hpp"

namespace emberline::unit {

using registers::State;

State decide_state(const Conditions& conditions) {
  if (!conditions.powered) return State::unpowered;
  if (conditions.starting) return State::starting;
  if (conditions.tripped) return State::tripped;
  if (conditions.latched) return State::inhibited;
  if (!conditions.enabled) return State::stopped;
  if (conditions.at_preset) return State::preset;
  if (conditions.holding) return State::holding;
  return State::running;
}

bool answers(State state) { return state != State::unpowered && state != State::starting; }

bool delivers(State state) {
  return state == State::running || state == State::holding || state == State::preset;
}

}  // namespace emberline::unit

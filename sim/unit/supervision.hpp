#pragma once

#include <array>
#include <cstdint>
#include <string>

#include "sim/unit/partial_load.hpp"
#include "sim/unit/settings.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::unit {

/// What the last mains cycle says about one protection.
struct Reading {
  enum class Sight : std::uint8_t {
    seen,     ///< `value` is what there is to compare with the threshold
    between,  ///< between two bursts: what was seen last goes on
    idle,     ///< nothing to judge by: what was about to be raised is forgotten, what stands stays
    silent,   ///< no business of the protection's: nothing stands but what has latched
  };
  Sight sight = Sight::silent;
  double value = 0.0;     ///< in the measure of the threshold
  std::size_t where = 0;  ///< line or leg it was found in, 0 to 2
};
using Readings = std::array<Reading, kProtectionCount>;

inline Reading& of(Readings& readings, Protection protection) {
  return readings[static_cast<std::size_t>(protection)];
}

/// What there is to judge by.
struct Look {
  const UnitSpec& spec;
  const Settings& settings;
  const Measured& measured;
  bool on = false;           ///< the unit commands more than 0
  bool after_fired = false;  ///< the cycle before was fired: what it drove through an inductance runs on
};

/// supply-low and supply-high by the worst of the lines the unit has, phase-lost by the voltages between
/// them, supply-frequency. Silent while the load's supply is off, which is a warning of its own, and while
/// nothing says what it should be.
///
/// A line that is lost floats, and reads nearly anything against neutral; through a passive load it cannot
/// hold a voltage against both of the others: the lower of the two is at most 1/sqrt(3) of the nominal
/// voltage (it is that when the line hangs at neutral, and half of it in the middle between the others). When
/// all voltages between lines are low nothing is lost, the supply is low. While a line is lost, supply-low
/// and supply-high have nothing to say about it.
void read_supply(const Look& look, Readings& readings);

/// load-open and partial-load-failure, in fired cycles and by legs with at least kJudgeable of the nominal
/// line-neutral voltage across them. The current of load-open is set against what the rated current would be
/// at the voltage of the leg, so that a small firing angle is no open load.
void read_load(const Look& look, const PartialLoad& partial_load, Readings& readings);
inline constexpr double kJudgeable = 0.10;

/// heatsink-warm, heatsink-over-temperature (idle without a temperature), over-current, overload, fuse-open,
/// thyristor-shorted. That is judged from the second of the unfired cycles on: in the first one the current
/// of the last half-wave may run on through an inductance, however large it is. In bursts the fired cycles,
/// and those first ones, neither count nor interrupt: every cycle that is judged has to show the current.
void read_power_stage(const Look& look, Readings& readings);

/// Legs the load has.
[[nodiscard]] inline std::size_t legs_of(const Measured& measured) { return measured.phases == 1 ? 1 : 3; }
/// RMS current over RMS voltage of the legs that can be judged; nothing for the others.
[[nodiscard]] PartialLoad::Conductance conductance(const Measured& measured);
/// The largest current in the lines the unit has, and which.
struct LineCurrent {
  double current_A = 0.0;
  std::size_t line = 0;
};
[[nodiscard]] LineCurrent largest_line_current(const CycleSeen& cycle);

/// A reading in words: "194.3 V in l2, 84.5 % of the nominal voltage".
[[nodiscard]] std::string describe(Protection protection, const Reading& reading, const Look& look);

}  // namespace emberline::unit

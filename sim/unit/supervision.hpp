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
    silent,   ///< no business of the protection's: nothing stands
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
  bool on = false;      ///< the unit commands more than 0
  double tail_A = 0.0;  ///< current in an unfired cycle that is not yet suspicious, see shorted_reading()
};

/// supply-low, supply-high and phase-lost by the worst of the lines the unit has, supply-frequency. Silent
/// while the load's supply is off, which is a warning of its own, and while nothing says what it should be.
/// phase-lost is about some lines without others: when all of them are low, nothing is lost, the supply is
/// off.
void read_supply(const Look& look, Readings& readings);

/// load-open and partial-load-failure, in fired cycles and by legs with at least kJudgeable of the nominal
/// line-neutral voltage across them. The current of load-open is set against what the rated current would be
/// at the voltage of the leg, so that a small firing angle is no open load.
void read_load(const Look& look, const PartialLoad& partial_load, Readings& readings);
inline constexpr double kJudgeable = 0.10;

/// heatsink-warm, heatsink-over-temperature, over-current, overload, fuse-open, thyristor-shorted.
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

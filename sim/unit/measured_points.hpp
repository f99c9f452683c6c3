#pragma once

#include <optional>

#include "sim/registers/point.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::unit {

/// The value of a point that comes straight from the meter; nothing for other points. Bare voltages and
/// currents are the mean over the phases, the bare power is the total, load_resistance is mean voltage over
/// mean current (0 without current). The bare apparent power is the sum of the lines' (the arithmetic one of
/// IEEE 1459), and the power factor is active over apparent power.
[[nodiscard]] std::optional<double> measured_point(registers::Point point, const Measured& measured);

}  // namespace emberline::unit

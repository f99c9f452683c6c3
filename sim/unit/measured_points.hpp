#pragma once

#include <optional>

#include "sim/registers/point.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::unit {

/// The value of a point that comes straight from the meter; nothing for other points. Bare voltages and
/// currents are the mean over the phases, the bare power is the total, load_resistance is mean voltage over
/// mean current (0 without current).
[[nodiscard]] std::optional<double> measured_point(registers::Point point, const Measured& measured);

}  // namespace emberline::unit

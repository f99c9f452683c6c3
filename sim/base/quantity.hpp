#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "sim/base/result.hpp"

namespace emberline {

/// What a number measures. Values are held in SI units (ratios as fractions: 100 % is 1), with two
/// exceptions that follow everyday use: temperatures in degC and angles in degrees.
enum class Dimension {
  number,                  ///< no unit: counts, states, bit fields
  logical,                 ///< 0 or 1, written on/off, closed/open, true/false, yes/no
  ratio,                   ///< fraction; written in %
  voltage,                 ///< V
  current,                 ///< A
  power,                   ///< W
  apparent_power,          ///< VA
  resistance,              ///< ohm
  inductance,              ///< H
  temperature,             ///< degC
  temperature_difference,  ///< K
  time,                    ///< s
  frequency,               ///< Hz
  angle,                   ///< degrees
  energy,                  ///< J; its natural unit in registers and on the screen is kWh
  mass,                    ///< kg
  specific_heat,           ///< J/kgK
  heat_capacity,           ///< J/K
  thermal_conductance,     ///< W/K
  thermal_resistance,      ///< K/W
  thermal_conductivity,    ///< W/mK
  film,                    ///< W/m2K, heat transfer coefficient of a surface
  length,                  ///< m
  area,                    ///< m2
  density,                 ///< kg/m3
  melting_integral,        ///< A2s, what melts a fuse; kA2s is 1000 A2s, as data sheets of fuses have it
  heating_rate,            ///< K/s, how fast a temperature moves; its natural unit is K/h
  gain,                    ///< fraction per K, written %/K
};

/// Reads a value with its unit of measure, such as "400 V", "12 mohm", "4 %/K" or "540 degC", into SI.
/// The prefixes u m k M are known where they make sense (also "min" and "h" for times, "g" and "t" for
/// masses, "kWh" for energy). A dimension of `number` takes a plain decimal or 0x hexadecimal number;
/// `logical` takes its words. Refuses NaN, infinities, a missing or foreign unit and anything behind it; the
/// error says what was expected, with an example, and never starts with a capital or ends with a full stop.
[[nodiscard]] Result<double, std::string> parse_quantity(std::string_view text, Dimension dimension);

/// The unit in which a dimension is carried in registers and shown: %, V, A, W, ohm, degC, s, Hz, deg, kWh,
/// ...; empty for numbers and logical values.
[[nodiscard]] std::string_view natural_unit(Dimension dimension);

/// How much of our internal unit one natural unit is: 0.01 for %, 3.6e6 for kWh, 1 for most.
[[nodiscard]] double natural_factor(Dimension dimension);

/// A value for people: at most six significant digits in the natural unit, with a prefix (k, M, m) for V, A,
/// W, VA and ohm where it reads better: "11.9 kW", "50 %", "540 degC"; logical values as "on" and "off".
[[nodiscard]] std::string format_quantity(double value, Dimension dimension);

/// A plain number, locale-independent, the shortest that reads back to the same double; "0" for minus zero.
[[nodiscard]] std::string format_number(double value);

}  // namespace emberline

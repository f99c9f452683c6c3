#include "sim/base/quantity.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <iterator>
#include <span>

namespace emberline {
namespace {

struct Unit {
  std::string_view text;
  double factor;
};

constexpr Unit kRatioUnits[] = {{"%", 0.01}};
constexpr Unit kVoltUnits[] = {{"V", 1}, {"mV", 1e-3}, {"kV", 1e3}};
constexpr Unit kAmpereUnits[] = {{"A", 1}, {"mA", 1e-3}, {"kA", 1e3}};
constexpr Unit kWattUnits[] = {{"W", 1}, {"kW", 1e3}, {"MW", 1e6}, {"mW", 1e-3}};
constexpr Unit kOhmUnits[] = {{"ohm", 1}, {"mohm", 1e-3}, {"kohm", 1e3}, {"Mohm", 1e6}, {"uohm", 1e-6}};
constexpr Unit kHenryUnits[] = {{"H", 1}, {"mH", 1e-3}, {"uH", 1e-6}};
constexpr Unit kCelsiusUnits[] = {{"degC", 1}};
constexpr Unit kSecondUnits[] = {{"s", 1}, {"ms", 1e-3}, {"us", 1e-6}, {"min", 60}, {"h", 3600}};
constexpr Unit kHertzUnits[] = {{"Hz", 1}, {"kHz", 1e3}};
constexpr Unit kDegreeUnits[] = {{"deg", 1}};
constexpr Unit kEnergyUnits[] = {{"kWh", 3.6e6}, {"Wh", 3.6e3}, {"MWh", 3.6e9},
                                 {"J", 1},       {"kJ", 1e3},   {"MJ", 1e6}};
constexpr Unit kMassUnits[] = {{"kg", 1}, {"g", 1e-3}, {"t", 1e3}};
constexpr Unit kSpecificHeatUnits[] = {{"J/kgK", 1}, {"kJ/kgK", 1e3}};
constexpr Unit kHeatCapacityUnits[] = {{"J/K", 1}, {"kJ/K", 1e3}, {"MJ/K", 1e6}};
constexpr Unit kConductanceUnits[] = {{"W/K", 1}, {"kW/K", 1e3}, {"mW/K", 1e-3}};
constexpr Unit kApparentUnits[] = {{"VA", 1}, {"kVA", 1e3}, {"MVA", 1e6}};
constexpr Unit kKelvinUnits[] = {{"K", 1}};
constexpr Unit kThermalResistanceUnits[] = {{"K/W", 1}};
constexpr Unit kConductivityUnits[] = {{"W/mK", 1}, {"mW/mK", 1e-3}};
constexpr Unit kFilmUnits[] = {{"W/m2K", 1}, {"kW/m2K", 1e3}};
constexpr Unit kLengthUnits[] = {{"m", 1}, {"cm", 1e-2}, {"mm", 1e-3}};
constexpr Unit kAreaUnits[] = {{"m2", 1}, {"cm2", 1e-4}, {"mm2", 1e-6}};
constexpr Unit kDensityUnits[] = {{"kg/m3", 1}};
constexpr Unit kMeltingUnits[] = {{"A2s", 1}, {"kA2s", 1e3}};
constexpr Unit kHeatingRateUnits[] = {{"K/h", 1.0 / 3600}, {"K/min", 1.0 / 60}, {"K/s", 1}};
constexpr Unit kGainUnits[] = {{"%/K", 0.01}};

struct DimensionInfo {
  Dimension dimension;
  std::string_view what;     ///< "a voltage"
  std::string_view example;  ///< "400 V"
  std::string_view natural;
  std::span<const Unit> units;
  bool prefix_on_screen;
};

/// In the order of the enumeration.
constexpr DimensionInfo kDimensions[] = {
    {Dimension::number, "a number", "3", "", {}, false},
    {Dimension::logical, "on or off", "on", "", {}, false},
    {Dimension::ratio, "a percentage", "50 %", "%", kRatioUnits, false},
    {Dimension::voltage, "a voltage", "400 V", "V", kVoltUnits, true},
    {Dimension::current, "a current", "50 A", "A", kAmpereUnits, true},
    {Dimension::power, "a power", "24 kW", "W", kWattUnits, true},
    {Dimension::apparent_power, "an apparent power", "24 kVA", "VA", kApparentUnits, true},
    {Dimension::resistance, "a resistance", "22 ohm", "ohm", kOhmUnits, true},
    {Dimension::inductance, "an inductance", "11.3 mH", "H", kHenryUnits, false},
    {Dimension::temperature, "a temperature", "540 degC", "degC", kCelsiusUnits, false},
    {Dimension::temperature_difference, "a temperature difference", "5 K", "K", kKelvinUnits, false},
    {Dimension::time, "a time", "3 s", "s", kSecondUnits, false},
    {Dimension::frequency, "a frequency", "50 Hz", "Hz", kHertzUnits, false},
    {Dimension::angle, "an angle", "68 deg", "deg", kDegreeUnits, false},
    {Dimension::energy, "an energy", "12 kWh", "kWh", kEnergyUnits, false},
    {Dimension::mass, "a mass", "180 kg", "kg", kMassUnits, false},
    {Dimension::specific_heat, "a specific heat", "900 J/kgK", "J/kgK", kSpecificHeatUnits, false},
    {Dimension::heat_capacity, "a heat capacity", "900 J/K", "J/K", kHeatCapacityUnits, false},
    {Dimension::thermal_conductance, "a thermal conductance", "38 W/K", "W/K", kConductanceUnits, false},
    {Dimension::thermal_resistance, "a thermal resistance", "0.25 K/W", "K/W", kThermalResistanceUnits,
     false},
    {Dimension::thermal_conductivity, "a thermal conductivity", "0.3 W/mK", "W/mK", kConductivityUnits,
     false},
    {Dimension::film, "a heat transfer coefficient", "10 W/m2K", "W/m2K", kFilmUnits, false},
    {Dimension::length, "a length", "115 mm", "m", kLengthUnits, false},
    {Dimension::area, "an area", "2.4 m2", "m2", kAreaUnits, false},
    {Dimension::density, "a density", "780 kg/m3", "kg/m3", kDensityUnits, false},
    {Dimension::melting_integral, "a melting integral", "5000 A2s", "A2s", kMeltingUnits, false},
    {Dimension::heating_rate, "a heating rate", "200 K/h", "K/h", kHeatingRateUnits, false},
    {Dimension::gain, "a gain", "4 %/K", "%/K", kGainUnits, false},
};

constexpr bool in_order() {
  for (std::size_t i = 0; i < std::size(kDimensions); ++i)
    if (static_cast<std::size_t>(kDimensions[i].dimension) != i) return false;
  return std::size(kDimensions) == static_cast<std::size_t>(Dimension::gain) + 1;
}
static_assert(in_order());

const DimensionInfo& info_of(Dimension dimension) { return kDimensions[static_cast<std::size_t>(dimension)]; }

std::string expected(const DimensionInfo& info) {
  return "expected " + std::string(info.what) + " such as '" + std::string(info.example) + "'";
}

std::string_view trim(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

/// Splits the number off; nothing if the text does not begin with a finite decimal number.
std::optional<std::pair<double, std::string_view>> leading_number(std::string_view text) {
  const bool plus = !text.empty() && text.front() == '+';
  const auto digits = plus ? text.substr(1) : text;
  if (digits.empty() || !(std::isdigit(static_cast<unsigned char>(digits.front())) != 0 ||
                          digits.front() == '-' || digits.front() == '.')) {
    return std::nullopt;
  }
  double value = 0.0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (error != std::errc{} || !std::isfinite(value)) return std::nullopt;
  return std::pair{value, digits.substr(static_cast<std::size_t>(end - digits.data()))};
}

Result<double, std::string> parse_logical(std::string_view text) {
  for (const auto word : {"on", "closed", "true", "yes", "1"})
    if (text == word) return 1.0;
  for (const auto word : {"off", "open", "false", "no", "0"})
    if (text == word) return 0.0;
  return Failure{"expected on or off (or closed/open, true/false, 1/0), found '" + std::string(text) + "'"};
}

Result<double, std::string> parse_plain(std::string_view text) {
  if (text.starts_with("0x") || text.starts_with("0X")) {
    std::uint64_t value = 0;
    const auto hex = text.substr(2);
    const auto [end, error] = std::from_chars(hex.data(), hex.data() + hex.size(), value, 16);
    if (error == std::errc{} && end == hex.data() + hex.size()) return static_cast<double>(value);
  } else if (const auto number = leading_number(text); number && number->second.empty()) {
    return number->first;
  }
  return Failure{"expected a plain number without a unit, found '" + std::string(text) + "'"};
}

}  // namespace

Result<double, std::string> parse_quantity(std::string_view text, Dimension dimension) {
  text = trim(text);
  if (dimension == Dimension::logical) return parse_logical(text);
  if (dimension == Dimension::number) return parse_plain(text);
  const auto& info = info_of(dimension);
  const auto number = leading_number(text);
  if (!number) return Failure{expected(info) + ", found '" + std::string(text) + "'"};
  const auto unit_text = trim(number->second);
  if (unit_text.empty()) {
    return Failure{"'" + std::string(text) + "' has no unit of measure: " + expected(info)};
  }
  for (const auto& unit : info.units)
    if (unit.text == unit_text) return number->first * unit.factor;
  return Failure{"'" + std::string(unit_text) + "' is no unit for " + std::string(info.what) + ": " +
                 expected(info)};
}

std::string_view natural_unit(Dimension dimension) { return info_of(dimension).natural; }

double natural_factor(Dimension dimension) {
  switch (dimension) {
    case Dimension::ratio:
    case Dimension::gain:
      return 0.01;
    case Dimension::energy:
      return 3.6e6;
    case Dimension::heating_rate:
      return 1.0 / 3600;
    default:
      return 1.0;
  }
}

namespace {

/// `value` with at most `digits` significant digits (whole digits are never dropped), without
/// exponent for everyday sizes and without trailing zeros.
std::string significant(double value, int digits) {
  if (value == 0.0) return "0";
  std::array<char, 64> buffer{};
  const double magnitude = std::abs(value);
  if (magnitude < 1e-6 || magnitude >= 1e15) {
    const auto end =
        std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::general, digits)
            .ptr;
    return {buffer.data(), end};
  }
  const int whole_digits = static_cast<int>(std::floor(std::log10(magnitude))) + 1;
  const int decimals = std::max(0, digits - whole_digits);
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, decimals)
          .ptr;
  std::string text(buffer.data(), end);
  if (text.find('.') != std::string::npos) {
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
  }
  return text == "-0" ? "0" : text;
}

struct Prefixed {
  double factor;
  std::string_view prefix;
};

Prefixed prefix_for(double magnitude) {
  if (magnitude >= 1e6) return {1e-6, "M"};
  if (magnitude >= 1e4) return {1e-3, "k"};
  if (magnitude > 0.0 && magnitude < 0.1) return {1e3, "m"};
  return {1.0, ""};
}

}  // namespace

std::string format_quantity(double value, Dimension dimension) {
  if (dimension == Dimension::logical) return value != 0.0 ? "on" : "off";
  if (std::isnan(value)) return "no value";
  const auto& info = info_of(dimension);
  double shown = value / natural_factor(dimension);
  std::string unit(info.natural);
  if (info.prefix_on_screen) {
    const auto [factor, prefix] = prefix_for(std::abs(shown));
    shown *= factor;
    unit = std::string(prefix) + unit;
  }
  // Four digits tell a reader enough; numbers without a unit (counts, states) are shown in full.
  const int digits = dimension == Dimension::number ? 9 : (dimension == Dimension::time ? 6 : 4);
  const auto text = significant(shown, digits);
  return unit.empty() ? text : text + " " + unit;
}

std::string format_number(double value) {
  if (value == 0.0) return "0";
  std::array<char, 64> buffer{};
  const auto end = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value).ptr;
  return std::string(buffer.data(), end);
}

}  // namespace emberline

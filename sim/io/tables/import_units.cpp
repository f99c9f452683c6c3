#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_characters.hpp"

namespace emberline::io {
namespace {

struct KnownUnit {
  std::string_view word;
  Dimension dimension;
  double factor;
};
/// Exactly so first; then with small letters, where no prefix could be mistaken.
constexpr KnownUnit kUnits[] = {
    {"%", Dimension::ratio, 0.01},
    {"V", Dimension::voltage, 1},
    {"mV", Dimension::voltage, 1e-3},
    {"kV", Dimension::voltage, 1e3},
    {"A", Dimension::current, 1},
    {"mA", Dimension::current, 1e-3},
    {"kA", Dimension::current, 1e3},
    {"W", Dimension::power, 1},
    {"mW", Dimension::power, 1e-3},
    {"kW", Dimension::power, 1e3},
    {"MW", Dimension::power, 1e6},
    {"VA", Dimension::apparent_power, 1},
    {"kVA", Dimension::apparent_power, 1e3},
    {"MVA", Dimension::apparent_power, 1e6},
    {"ohm", Dimension::resistance, 1},
    {"mohm", Dimension::resistance, 1e-3},
    {"kohm", Dimension::resistance, 1e3},
    {"Mohm", Dimension::resistance, 1e6},
    {"uohm", Dimension::resistance, 1e-6},
    {"degC", Dimension::temperature, 1},
    {"s", Dimension::time, 1},
    {"ms", Dimension::time, 1e-3},
    {"us", Dimension::time, 1e-6},
    {"min", Dimension::time, 60},
    {"h", Dimension::time, 3600},
    {"d", Dimension::time, 86400},
    {"Hz", Dimension::frequency, 1},
    {"mHz", Dimension::frequency, 1e-3},
    {"kHz", Dimension::frequency, 1e3},
    {"deg", Dimension::angle, 1},
    {"kWh", Dimension::energy, 3.6e6},
    {"Wh", Dimension::energy, 3.6e3},
    {"MWh", Dimension::energy, 3.6e9},
    {"J", Dimension::energy, 1},
    {"kJ", Dimension::energy, 1e3},
    {"MJ", Dimension::energy, 1e6},
};
/// Other ways of writing one, in small letters and without blanks, points and underscores.
constexpr std::pair<std::string_view, std::string_view> kUnitWords[] = {
    {"percent", "%"},
    {"pct", "%"},
    {"volt", "V"},
    {"volts", "V"},
    {"vrms", "V"},
    {"vac", "V"},
    {"vdc", "V"},
    {"v", "V"},
    {"kv", "kV"},
    {"amp", "A"},
    {"amps", "A"},
    {"ampere", "A"},
    {"amperes", "A"},
    {"arms", "A"},
    {"aac", "A"},
    {"adc", "A"},
    {"a", "A"},
    {"ka", "kA"},
    {"watt", "W"},
    {"watts", "W"},
    {"w", "W"},
    {"kilowatt", "kW"},
    {"kw", "kW"},
    {"va", "VA"},
    {"kva", "kVA"},
    {"ohm", "ohm"},
    {"ohms", "ohm"},
    {"kohm", "kohm"},
    {"milliohm", "mohm"},
    {"degc", "degC"},
    {"c", "degC"},
    {"celsius", "degC"},
    {"degcelsius", "degC"},
    {"degreesc", "degC"},
    {"s", "s"},
    {"sec", "s"},
    {"secs", "s"},
    {"second", "s"},
    {"seconds", "s"},
    {"msec", "ms"},
    {"milliseconds", "ms"},
    {"mins", "min"},
    {"minute", "min"},
    {"minutes", "min"},
    {"hr", "h"},
    {"hrs", "h"},
    {"hour", "h"},
    {"hours", "h"},
    {"days", "d"},
    {"hz", "Hz"},
    {"hertz", "Hz"},
    {"degree", "deg"},
    {"degrees", "deg"},
    {"degel", "deg"},
    {"kwh", "kWh"},
    {"wh", "Wh"},
    {"joule", "J"},
    {"kj", "kJ"},
};

const KnownUnit* known_unit(std::string_view text) {
  const auto find = [](std::string_view word) -> const KnownUnit* {
    const auto* at =
        std::find_if(std::begin(kUnits), std::end(kUnits), [&](const auto& u) { return u.word == word; });
    return at == std::end(kUnits) ? nullptr : at;
  };
  if (const auto* exact = find(text)) return exact;
  const auto small = lower(without(std::string(text), " ._"));
  for (const auto& [word, ours] : kUnitWords)
    if (word == small) return find(ours);
  return find(without(std::string(text), " ._"));
}

/// A factor at the front: "x 0.1 A", "1/10 A", "*10". Leaves the rest in `text`; nothing if there is none.
std::optional<double> take_factor(std::string_view& text) {
  auto rest = text;
  const auto skip_blanks = [&rest] {
    while (!rest.empty() && rest.front() == ' ') rest.remove_prefix(1);
  };
  const bool divides = rest.starts_with('/') || rest.starts_with(':');
  if (divides || rest.starts_with('x') || rest.starts_with('X') || rest.starts_with('*'))
    rest.remove_prefix(1);
  skip_blanks();
  auto number = leading_number(rest);
  if (!number) return std::nullopt;
  double value = number->first;
  rest = number->second;
  if (value == 10.0 && rest.starts_with('^')) {
    const auto power = leading_number(rest.substr(1));
    if (!power || std::abs(power->first) > 12 || power->first != std::round(power->first))
      return std::nullopt;
    value = power->first < 0 ? 1.0 / std::pow(10.0, -power->first) : std::pow(10.0, power->first);
    rest = power->second;
  }
  skip_blanks();
  if (!divides && (rest.starts_with('/') || rest.starts_with(':'))) {
    auto below = rest.substr(1);
    while (!below.empty() && below.front() == ' ') below.remove_prefix(1);
    if (const auto divisor = leading_number(below); divisor && divisor->first != 0.0) {
      value /= divisor->first;
      rest = divisor->second;
      skip_blanks();
    }
  }
  if (divides && value == 0.0) return std::nullopt;
  text = rest;
  if (text.starts_with('*') || text.starts_with("x ") || text.starts_with("X ")) text.remove_prefix(1);
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  return divides ? 1.0 / value : value;
}

}  // namespace

double UnitCell::of_word() const {
  const auto* known = known_unit(text);
  return known == nullptr ? 1.0 : known->factor;
}

Result<std::optional<UnitCell>, std::string> unit_cell(std::string_view text) {
  const auto cell = trimmed(plain(text));
  auto rest = bracketless(cell);
  const auto small = lower(rest);
  for (const std::string_view none : {"", "-", "--", "---", "1", "n/a", "na", "none", "./."})
    if (small == none) return std::optional<UnitCell>{};
  for (const std::string_view offset : {"degf", "f", "fahrenheit", "deg f"})
    if (small == offset)
      return Failure{"the unit '" + std::string(text) +
                     "' has another zero than degC, which a scale cannot carry"};
  if (auto why = why_two_numbers(rest); !why.empty()) return Failure{std::move(why)};
  double factor = take_factor(rest).value_or(1.0);
  std::string word(rest);
  if (known_unit(word) == nullptr) {  // "A x 10", "A/10"
    const auto at = word.find_first_of(" x*/");
    if (at != std::string::npos && at > 0) {
      std::string_view behind = std::string_view(word).substr(at);
      while (!behind.empty() && behind.front() == ' ') behind.remove_prefix(1);
      if (const auto more = take_factor(behind); more && behind.empty()) {
        factor *= *more;
        word = trimmed(std::string_view(word).substr(0, at));
      }
    }
  }
  if (word.empty() && factor > 0.0) return std::optional(UnitCell{Dimension::number, factor, ""});
  const auto* known = known_unit(word);
  if (known == nullptr || !(factor > 0.0)) return Failure{"unknown unit '" + std::string(text) + "'"};
  return std::optional(UnitCell{known->dimension, factor * known->factor, std::string(known->word)});
}

Result<ScaleCell, std::string> scale_cell(std::string_view text, ScaleHabit habit) {
  const auto fail = [&](std::string_view expected) {
    return Failure{"expected " + std::string(expected) + ", found '" + std::string(text) + "'"};
  };
  const auto cell = trimmed(plain(text));
  ScaleCell scale;
  if (cell.empty() || cell == "-" || cell == "--") return scale;
  if (auto why = why_two_numbers(cell); !why.empty()) return Failure{std::move(why)};
  // "1/10" and "/10" mean what they say, whatever the column is called.
  const bool ratio = cell.find_first_of("/:") < cell.find_first_not_of("0123456789.,/: xX*");
  if (habit == ScaleHabit::decimals && !ratio) {
    const auto digits = whole_number_of(cell);
    if (!digits || *digits > 12) return fail("a number of decimals from 0 to 12");
    scale.number = 1.0 / std::pow(10.0, *digits);
    return scale;
  }
  std::string_view rest = cell;
  const auto number = take_factor(rest);
  if (!number || !(*number > 0.0)) {
    const auto unit = unit_cell(cell);  // a unit alone: a count is one of it
    if (!unit || !*unit || number) return fail("a scale such as 0.1, 1/10 or 0.1 A");
    scale.unit = **unit;
    return scale;
  }
  if (!rest.empty()) {
    const auto unit = unit_cell(rest);
    if (!unit) return Failure{unit.error()};
    scale.unit = *unit;
  }
  const bool divides = habit == ScaleHabit::divisor && !ratio;
  scale.number = divides ? 1.0 / *number : *number;
  scale.odd_divisor = divides && *number < 1.0;
  return scale;
}

std::pair<std::string, std::optional<UnitCell>> unit_in_name(const std::string& name) {
  const auto open = name.find_last_of("[(");
  if (open == std::string::npos || open == 0 || (name.back() != ']' && name.back() != ')'))
    return {name, std::nullopt};
  const auto unit = unit_cell(std::string_view(name).substr(open));
  if (!unit || !*unit || (*unit)->text.empty()) return {name, std::nullopt};
  return {trimmed(std::string_view(name).substr(0, open)), **unit};
}

}  // namespace emberline::io

#include "sim/cli/watch_table.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <optional>

#include <boost/json.hpp>

#include "sim/base/plain_text.hpp"
#include "sim/io/report/json_find.hpp"

namespace emberline::cli {
namespace {

namespace json = boost::json;
using io::find_member;

// Of a unit's columns, in characters: state, asked, given, power, left, zone; with a blank before each.
constexpr std::array<std::size_t, 6> kWidths{11, 6, 6, 10, 8, 11};
constexpr std::array<std::string_view, 6> kTitles{"state", "asked", "given", "power", "left", "zone"};
constexpr std::size_t kTimeWidth = 10;

std::string padded(std::string_view text, std::size_t width) {
  std::string result(text.substr(0, std::min(text.size(), 200UL)));
  if (result.size() < width) result.append(width - result.size(), ' ');
  return result;
}

std::string right(std::string_view text, std::size_t width) {
  return (text.size() < width ? std::string(width - text.size(), ' ') : std::string()) + std::string(text);
}

std::string text_of(const json::value* value) {
  return one_line(std::string(io::find_text(value).value_or("")));
}

std::optional<double> number_of(const json::value* value) {
  if (value == nullptr || !value->is_number()) return std::nullopt;
  return value->to_number<double>();
}

/// "12.3 kW" of 12345 W with the format "%.1f kW" and the factor 0.001; "-" for none.
std::string shown(std::optional<double> value, double factor, const char* format) {
  if (!value) return "-";
  std::array<char, 64> text{};
  std::snprintf(text.data(), text.size(), format, *value * factor);
  return text.data();
}

/// The entry of a list whose "name" this is.
const json::value* named(const json::value* list, std::string_view name) {
  const auto* array = list != nullptr ? list->if_array() : nullptr;
  if (array == nullptr) return nullptr;
  for (const auto& entry : *array)
    if (text_of(find_member(&entry, "name")) == name) return &entry;
  return nullptr;
}

std::string unit_cells(const json::value& unit, const json::value* zone) {
  const auto number = [&unit](std::string_view key) { return number_of(find_member(&unit, key)); };
  const std::array<std::string, 6> cells{
      text_of(find_member(&unit, "state")),
      shown(number_of(find_member(find_member(&unit, "setpoint"), "active")), 100.0, "%.0f %%"),
      shown(number("output"), 100.0, "%.0f %%"),
      shown(number("power"), 0.001, "%.2f kW"),
      shown(number_of(find_member(find_member(&unit, "watchdog"), "left")), 1.0, "%.1f s"),
      shown(number_of(find_member(zone, "temperature")), 1.0, "%.1f degC")};
  std::string text = " " + padded(cells[0], kWidths[0]);
  for (std::size_t i = 1; i < cells.size(); ++i) text += " " + right(cells[i], kWidths[i]);
  return text;
}

Failure<std::string> no_panel() { return Failure{std::string("it answers with other words than a panel")}; }

}  // namespace

Result<WatchTable, std::string> WatchTable::of_bench(std::string_view bench_json) {
  const auto bench = io::parse_json(bench_json);
  const auto* units = find_member(&bench, "units");
  if (units == nullptr || !units->is_array()) return no_panel();
  WatchTable table;
  std::size_t width = 0;
  for (const auto columns : kWidths) width += columns + 1;
  std::string first(kTimeWidth, ' ');
  std::string second = right("time", kTimeWidth);
  for (const auto& unit : units->get_array()) {
    table.columns_.push_back({text_of(find_member(&unit, "name")), text_of(find_member(&unit, "heats"))});
    const auto& column = table.columns_.back();
    first +=
        " " + padded(column.unit + (column.zone.empty() ? "" : " (heats " + column.zone + ")"), width - 1);
    second += " " + padded(kTitles[0], kWidths[0]);
    for (std::size_t i = 1; i < kTitles.size(); ++i) second += " " + right(kTitles[i], kWidths[i]);
  }
  table.heading_ = first + "\n" + second + "\n";
  return table;
}

Result<std::string, std::string> WatchTable::row(std::string_view state_json) const {
  const auto state = io::parse_json(state_json);
  const auto at = number_of(find_member(&state, "at"));
  if (!at) return no_panel();
  std::string text = right(shown(at, 1.0, "%.1f s"), kTimeWidth);
  for (const auto& column : columns_) {
    const auto* unit = named(find_member(&state, "units"), column.unit);
    if (unit == nullptr) return no_panel();
    text += unit_cells(*unit, named(find_member(&state, "zones"), column.zone));
  }
  // A line that is as it should be needs no words.
  const auto* lines = find_member(&state, "lines");
  if (lines != nullptr && lines->is_array())
    for (const auto& line : lines->get_array())
      if (const auto word = text_of(find_member(&line, "state")); !word.empty() && word != "normal")
        text += "  " + text_of(find_member(&line, "name")) + " is " + word;
  return text + "\n";
}

}  // namespace emberline::cli

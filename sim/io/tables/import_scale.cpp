#include "sim/io/tables/import_scale.hpp"

#include <algorithm>
#include <cmath>

namespace emberline::io {
namespace {

bool same(double a, double b) { return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b)); }

bool agree(const UnitCell& a, const UnitCell& b) { return a.text == b.text && same(a.factor, b.factor); }

class ScaleReader {
 public:
  ScaleReader(const ImportSetting& setting, const std::vector<std::string>& cells)
      : setting_(setting), cells_(cells) {}

  StatedScale read(const std::string& name) {
    auto [bare, in_name] = unit_in_name(name);
    said_.name = bare;
    const auto unit = unit_cell(cell(TableColumn::unit));
    if (!unit) said_.unit_fault = unit.error();
    const auto scale = scale_cell(cell(TableColumn::scale), setting_.columns.scale);
    if (!scale) said_.scale_fault = scale.error();
    if (in_name) take(TableColumn::name, "the name says " + in_name->text, *in_name);
    if (unit && *unit) take(TableColumn::unit, "the unit says '" + cell(TableColumn::unit) + "'", **unit);
    if (!scale) return std::move(said_);
    const auto says = "the scale says '" + cell(TableColumn::scale) + "'";
    if (scale->unit) take(TableColumn::scale, says, *scale->unit);
    factor(says, scale->number);
    if (scale->odd_divisor)
      said_.remarks.push_back({TableColumn::scale, "'" + cell(TableColumn::scale) +
                                                       "' is taken as a divisor; it looks like a factor"});
    if (!said_.unit && said_.unit_fault.empty()) unit_of_range();
    return std::move(said_);
  }

 private:
  std::string cell(TableColumn column) const { return setting_.cell(cells_, column); }

  void contradict(TableColumn column, const std::string& one, const std::string& other) {
    if (!said_.contradiction)
      said_.contradiction = RowFault{column, one + " and " + other + ": expected the same, or one of them"};
  }

  void take(TableColumn column, const std::string& says, const UnitCell& unit) {
    // "0.1" as a unit is a factor without one.
    if (unit.dimension == Dimension::number) return factor(says, unit.factor);
    if (said_.unit) {
      if (!agree(*said_.unit, unit)) contradict(column, unit_said_, says);
      return;
    }
    said_.unit = unit;
    unit_said_ = says;
    if (!same(unit.own_factor(), 1.0)) factor_said_ = says;
  }

  /// A factor beside one that a unit has, "0.1" and "0.1 A", may be the same one or another.
  void factor(const std::string& says, double number) {
    if (same(number, 1.0)) return;
    if (!factor_said_.empty()) return contradict(TableColumn::scale, factor_said_, says);
    factor_said_ = says;
    said_.number = number;
  }

  void unit_of_range() {
    const auto range = range_cell(cell(TableColumn::range));
    if (!range || !range->unit || range->unit->text.empty()) return;
    said_.unit = UnitCell{range->unit->dimension, range->unit->of_word(), range->unit->text};
    said_.remarks.push_back(
        {TableColumn::range, "no unit is stated, it is taken to be the range's: " + range->unit->text});
  }

  const ImportSetting& setting_;
  const std::vector<std::string>& cells_;
  StatedScale said_;
  std::string unit_said_;
  std::string factor_said_;
};

}  // namespace

StatedScale stated_scale(const ImportSetting& setting, const std::vector<std::string>& cells,
                         const std::string& name) {
  return ScaleReader(setting, cells).read(name);
}

std::optional<RowFault> unused_scale(const ImportSetting& setting, const std::vector<std::string>& cells,
                                     double number, std::uint16_t address) {
  for (const auto& unused : setting.columns.unused_scales) {
    const auto text = unused.column < cells.size() ? trimmed(cells[unused.column]) : std::string();
    if (text.empty() || text == "-") continue;
    const int column = static_cast<int>(unused.column) + 1;
    if (unused.offset) {
      const auto offset = plain_number(text);
      if (offset && (*offset == 0.0 || *offset == address || *offset == address + 1.0)) continue;
      return RowFault{TableColumn::scale,
                      "an offset is not there, found '" + text + "' under '" + unused.header + "'", column};
    }
    const auto scale = scale_cell(text, unused.habit);
    if (scale && !scale->unit && (same(scale->number, 1.0) || same(scale->number, number))) continue;
    return RowFault{TableColumn::scale,
                    "'" + text + "' under '" + unused.header + "' is not used, as the scale is taken from '" +
                        setting.columns.scale_header + "': say which under `columns` in the mapping",
                    column};
  }
  return std::nullopt;
}

}  // namespace emberline::io

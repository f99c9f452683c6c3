#include "sim/io/tables/import_range.hpp"

#include <algorithm>
#include <utility>

#include "sim/registers/table_check.hpp"

namespace emberline::io {
namespace {

class RangeReader {
 public:
  RangeReader(const ImportSetting& setting, const std::vector<std::string>& cells,
              const std::optional<UnitCell>& unit, registers::Row& row, std::vector<RowRemark>& remarks)
      : setting_(setting),
        cells_(cells),
        unit_(unit),
        row_(row),
        info_(registers::point_info(row.point)),
        remarks_(remarks) {}

  std::optional<RowFault> read() {
    if (!info_.values.empty() || !info_.flags.empty()) return std::nullopt;
    if (!cell(TableColumn::range).empty())
      one_cell();
    else
      two_cells();
    if (row_.range && !fault_) fit();
    return std::move(fault_);
  }

 private:
  std::string cell(TableColumn column) const { return setting_.cell(cells_, column); }
  void remark(std::string text) { remarks_.push_back({column_, std::move(text)}); }
  void say(std::string why) {
    if (!fault_) fault_ = RowFault{column_, std::move(why)};
  }

  void no_range(const std::string& what) {
    const auto why = why_two_numbers(what);
    remark("'" + what + "' is no range such as 0..100, and is left out" + (why.empty() ? "" : ": " + why));
  }

  /// A number of the range in our internal unit.
  std::optional<double> internal(double number, const std::optional<UnitCell>& own) {
    const auto& unit = own ? own : unit_;
    if (unit && unit->dimension != info_.dimension) {
      say("the range is in '" + unit->text + "'");
      return std::nullopt;
    }
    if (!own && setting_.mapping.ranges == RangeHabit::as_carried) return number * row_.layout.scale;
    // The unit may have a factor of its own, which is the scale's: "0.1 A" is A.
    if (own) return number * own->factor;
    return number * (unit ? unit->of_word() : natural_factor(info_.dimension));
  }

  void one_cell() {
    column_ = TableColumn::range;
    const auto text = cell(column_);
    const auto range = range_cell(text);
    if (!range) return no_range(text);
    const bool carried = setting_.mapping.ranges == RangeHabit::as_carried;
    const auto low = internal(range->lowest, carried ? std::nullopt : range->unit);
    const auto high = internal(range->highest, carried ? std::nullopt : range->unit);
    if (low && high) row_.range = std::pair{*low, *high};
  }

  /// One end alone has the other end of what the point takes and the registers carry.
  void two_cells() {
    const auto low_text = cell(TableColumn::lowest);
    const auto high_text = cell(TableColumn::highest);
    if (low_text.empty() && high_text.empty()) return;
    column_ = low_text.empty() ? TableColumn::highest : TableColumn::lowest;
    auto [low, high] = registers::carried_range(row_.layout);
    if (info_.limits) {
      low = std::max(low, info_.limits->first);
      high = std::min(high, info_.limits->second);
    }
    if (!take(TableColumn::lowest, low_text, low) || !take(TableColumn::highest, high_text, high)) return;
    if (low > high) return no_range(low_text + " to " + high_text);
    row_.range = std::pair{low, high};
    if (low_text.empty() || high_text.empty())
      remark("no " + std::string(low_text.empty() ? "lower" : "upper") + " end is stated, " +
             format_quantity(low_text.empty() ? low : high, info_.dimension) + " is taken");
  }

  /// An end in a cell of its own; false if it cannot be used. An empty one leaves `end` as it is.
  bool take(TableColumn column, const std::string& text, double& end) {
    if (text.empty()) return true;
    column_ = column;
    const auto number = end_cell(text);
    if (!number) {
      no_range(text);
      return false;
    }
    const auto value = internal(number->number, number->unit);
    if (value) end = *value;
    return value.has_value();
  }

  /// Only what a master may write has to be in a range, and no wider one than the point takes.
  void fit() {
    const auto [least, most] = registers::carried_range(row_.layout);
    auto& [low, high] = *row_.range;
    if (row_.access == registers::Access::read_only) {
      const bool fits = low >= least && high <= most &&
                        (!info_.limits || (low >= info_.limits->first && high <= info_.limits->second));
      if (!fits) row_.range.reset();
      return;
    }
    if (!info_.limits) return;
    const auto [lowest, highest] = *info_.limits;
    constexpr double kRounding = 1e-9;
    if (low >= lowest - kRounding && high <= highest * (1.0 + kRounding)) return;
    if (high < lowest || low > highest)
      return say("the range has nothing in common with what " + std::string(info_.name) + " takes");
    low = std::max(low, lowest);
    high = std::min(high, highest);
    remark("the range is wider than " + std::string(info_.name) + " takes, and is held to " +
           format_quantity(low, info_.dimension) + " to " + format_quantity(high, info_.dimension));
  }

  const ImportSetting& setting_;
  const std::vector<std::string>& cells_;
  const std::optional<UnitCell>& unit_;
  registers::Row& row_;
  const registers::PointInfo& info_;
  std::vector<RowRemark>& remarks_;
  TableColumn column_ = TableColumn::range;
  std::optional<RowFault> fault_;
};

}  // namespace

std::optional<RowFault> read_range(const ImportSetting& setting, const std::vector<std::string>& cells,
                                   const std::optional<UnitCell>& unit, registers::Row& row,
                                   std::vector<RowRemark>& remarks) {
  return RangeReader(setting, cells, unit, row, remarks).read();
}

}  // namespace emberline::io

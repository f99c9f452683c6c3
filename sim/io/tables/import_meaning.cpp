#include "sim/io/tables/import_meaning.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_labels.hpp"
#include "sim/registers/table_check.hpp"

namespace emberline::io {
namespace {

using registers::Access;
using registers::Type;

std::string natural_name(Dimension dimension) {
  const auto unit = natural_unit(dimension);
  return unit.empty() ? "a plain number" : std::string(unit);
}

class MeaningReader {
 public:
  MeaningReader(const ImportSetting& setting, const std::vector<std::string>& cells, const RowPlace& place,
                const std::string& register_name)
      : setting_(setting), cells_(cells), place_(place), register_name_(register_name), row_(place.row) {}

  Result<RowMeaning, RowFault> read() {
    name_ = name_of_row(setting_, cells_);
    if (!cell(TableColumn::fixed).empty()) {
      fixed();
    } else {
      unit_and_scale();
      if (!fault_ && !place_.single_bit_stated) list_of_bits();
      if (!fault_ && meaning_.rows.empty()) one_point();
    }
    if (fault_) return Failure{std::move(*fault_)};
    check_rows();
    if (fault_) return Failure{std::move(*fault_)};
    return std::move(meaning_);
  }

 private:
  std::string cell(TableColumn column) const { return setting_.cell(cells_, column); }
  void say(TableColumn column, std::string why) {
    if (!fault_) fault_ = RowFault{column, std::move(why)};
  }
  void remark(TableColumn column, std::string text) { meaning_.remarks.push_back({column, std::move(text)}); }

  void fixed() {
    const auto text = cell(TableColumn::fixed);
    MadeRow made{row_, false, {}};
    made.row.access = Access::read_only;
    if (made.row.layout.type == Type::text) {
      made.row.fixed_text = text;
    } else if (const auto number = plain_number(text)) {
      made.row.fixed = *number;
    } else {
      return say(TableColumn::fixed, "expected the number that always stands here, found '" + text + "'");
    }
    meaning_.rows.push_back(std::move(made));
  }

  void unit_and_scale() {
    auto [bare, in_name] = unit_in_name(name_);
    name_ = bare;
    unit_ = in_name;
    const auto unit = unit_cell(cell(TableColumn::unit));
    if (!unit)
      unit_fault_ = unit.error();
    else if (*unit)
      unit_ = **unit;
    const auto scale = scale_cell(cell(TableColumn::scale), setting_.columns.scale);
    if (!scale) {
      scale_fault_ = scale.error();
      return;
    }
    scale_ = scale->number;
    if (scale->unit && !unit_) unit_ = scale->unit;
    if (!unit_)
      if (const auto range = range_cell(cell(TableColumn::range)); range && range->unit)
        unit_ = UnitCell{range->unit->dimension, natural_factor(range->unit->dimension),
                         std::string(natural_unit(range->unit->dimension))};
    // "0.1" as a unit is a factor without one.
    if (unit_ && unit_->dimension == Dimension::number) {
      scale_ *= unit_->factor;
      unit_.reset();
    }
  }

  std::optional<Dimension> dimension() const {
    return unit_ ? std::optional(unit_->dimension) : std::nullopt;
  }

  std::vector<Labelled> entries_in(TableColumn column) {
    std::vector<std::string> unread;
    auto entries = labelled_cell(cell(column), unread);
    for (const auto& piece : unread) remark(column, "'" + piece + "' is no number with its meaning");
    return entries;
  }

  /// What stands here for sure: as the point column, the mapping or our own word says.
  std::optional<MappedPoint> sure_point() {
    const auto stated = cell(TableColumn::point);
    if (!stated.empty()) {
      const auto point = mapped_point(stated);
      if (!point) say(TableColumn::point, "unknown point '" + stated + "'");
      return point;
    }
    for (const auto& name : {cell(TableColumn::name), name_}) {
      const auto mapped = setting_.mapping.points.find(loose(name));
      if (mapped != setting_.mapping.points.end() && !name.empty()) return mapped->second;
    }
    return point_by_own_word(name_);
  }

  bool is_flag_word(const MappedPoint& point) const {
    return point.point && !registers::point_info(*point.point).flags.empty() && !point.flag;
  }

  /// A register that lists bits, and is not just warnings or trips, becomes a row for each bit.
  void list_of_bits() {
    if (row_.layout.type == Type::text || registers::register_count(row_.layout) != 1 ||
        row_.layout.type == Type::bits)
      return;
    std::vector<std::string> unread;
    auto entries = labelled_cell(cell(TableColumn::values), unread);
    const bool any_bits = std::any_of(entries.begin(), entries.end(), [](const auto& e) { return e.is_bit; });
    if (!any_bits) return;
    const auto sure = sure_point();
    if (fault_ || (sure && is_flag_word(*sure))) return;
    const auto guess = guess_point(name_, dimension());
    if (!sure && guess.candidates.size() == 1 && is_flag_word(guess.candidates.front())) return;
    for (const auto& entry : entries) {
      const auto bit = guess_bit(entry.label, name_, setting_.mapping);
      const auto what = "bit " + std::to_string(entry.number) + " '" + entry.label + "'";
      if (entry.number > 15 || bit.candidates.size() != 1) {
        remark(TableColumn::values,
               what + (bit.candidates.empty() ? " is nothing of ours"
                                              : " could be " + words_of(bit.candidates)));
        continue;
      }
      MadeRow made{row_, true, "\"" + entry.label + "\""};
      made.row.layout.type = Type::bit;
      made.row.layout.coding = registers::Coding::binary;
      made.row.bit_position = entry.number;
      put(bit.candidates.front(), made.row);
      limit_access(made.row);
      meaning_.rows.push_back(std::move(made));
    }
    if (meaning_.rows.empty()) meaning_.remarks.clear();  // an ordinary row after all, which tells its own
  }

  static void put(const MappedPoint& point, registers::Row& row) {
    row.text = point.text;
    if (point.point) row.point = *point.point;
    row.flag = point.flag;
  }

  void no_point(const PointGuess& guess) {
    if (name_.empty())
      return say(TableColumn::name, "no name, and no point that the mapping or the table gives");
    if (guess.candidates.size() > 1)
      return say(TableColumn::name,
                 "could be " + words_of(guess.candidates) + ": say which under `points` in the mapping");
    if (!guess.other_unit.empty()) {
      const auto& other = guess.other_unit.front();
      return say(TableColumn::unit, "goes by a name of " + words_of(guess.other_unit) +
                                        ", which is measured in " +
                                        natural_name(registers::point_info(*other.point).dimension) +
                                        ", not in '" + unit_->text + "'");
    }
    say(TableColumn::name, "no point of ours goes by this name");
  }

  /// Which point; true if it is found.
  bool find_point(MadeRow& made) {
    if (const auto sure = sure_point()) {
      put(*sure, made.row);
      return true;
    }
    if (fault_) return false;
    if (made.row.layout.type == Type::text) {
      say(TableColumn::name, "no text of ours goes by this name");
      return false;
    }
    const bool bit = made.row.layout.type == Type::bit;
    const auto guess =
        bit ? guess_bit(name_, register_name_, setting_.mapping) : guess_point(name_, dimension());
    if (guess.candidates.size() != 1) {
      no_point(guess);
      return false;
    }
    put(guess.candidates.front(), made.row);
    made.guessed = true;
    made.because = "\"" + name_ + "\"" + (unit_ && !bit ? ", " + unit_->text : "");
    return true;
  }

  void one_point() {
    MadeRow made{row_, false, {}};
    if (!find_point(made)) return;
    if (made.row.text) {
      if (made.row.layout.type != Type::text)
        return say(TableColumn::type, "is a text, expected type text with its registers");
      limit_access(made.row);
    } else {
      if (made.row.layout.type == Type::text) return say(TableColumn::type, "a text carries no number");
      quantity(made);
    }
    if (!fault_) meaning_.rows.push_back(std::move(made));
  }

  void quantity(MadeRow& made) {
    const auto& info = registers::point_info(made.row.point);
    if (made.row.flag && made.row.layout.type != Type::bit)
      return say(TableColumn::type, "is one flag, expected a single bit");
    flag_column(info, made);
    scale(info, made);
    if (!fault_) words(info, made);
    limit_access(made.row);
    if (!fault_) range(info, made.row);
    if (!fault_) broken(made.row);
  }

  void flag_column(const registers::PointInfo& info, MadeRow& made) {
    const auto text = cell(TableColumn::flag);
    if (text.empty()) return;
    const auto flag = mapped_point(std::string(info.name) + "." + text);
    if (!flag) return say(TableColumn::flag, "'" + text + "' is no flag of " + std::string(info.name));
    made.row.flag = flag->flag;
  }

  void scale(const registers::PointInfo& info, MadeRow& made) {
    auto& layout = made.row.layout;
    if (!unit_fault_.empty()) return say(TableColumn::unit, unit_fault_);
    if (unit_ && unit_->dimension != info.dimension)
      return say(TableColumn::unit, std::string(info.name) + " is measured in " +
                                        natural_name(info.dimension) + ", not in '" + unit_->text + "'");
    if (layout.type == Type::bit) {
      layout.scale = 1.0;
      return;
    }
    if (!scale_fault_.empty()) return say(TableColumn::scale, scale_fault_);
    layout.scale = scale_ * (unit_ ? unit_->factor : natural_factor(info.dimension));
    if (!unit_ && !natural_unit(info.dimension).empty()) {
      remark(TableColumn::unit, "no unit is stated, " + std::string(info.name) + " is taken to be in " +
                                    natural_name(info.dimension));
      if (made.guessed) made.because += ", no unit";
    }
  }

  void words(const registers::PointInfo& info, MadeRow& made) {
    const bool flags_stated = !cell(TableColumn::flags).empty();
    const auto column = flags_stated ? TableColumn::flags : TableColumn::values;
    if (cell(column).empty() || made.row.layout.type == Type::bit) return;
    if (info.values.empty() && info.flags.empty()) {
      if (!entries_in(column).empty())
        remark(column, std::string(info.name) + " is a quantity; its values are left out");
      return;
    }
    auto entries = entries_in(column);
    if (entries.empty()) return;
    const double highest = registers::highest(made.row.layout);
    LabelsRead read;
    if (!info.values.empty()) {
      auto values = read_values(entries, made.row.point, highest, setting_.mapping);
      if (!values) return say(column, values.error());
      read = std::move(values).value();
      made.row.values = read.numbers;
    } else {
      if (!flags_stated) masks_to_bits(entries);
      read = read_flags(entries, made.row.point, setting_.mapping);
      made.row.flags = read.numbers;
      if (read.numbers.empty()) say(column, "none of its bits is one of " + std::string(info.name));
    }
    for (auto& text : read.remarks) remark(column, std::move(text));
    if (read.guessed && !made.guessed) {
      made.guessed = true;
      made.because = "the words of its values";
    }
  }

  /// A point that cannot be written here is read only, whatever the device allows.
  void limit_access(registers::Row& row) {
    const bool can = !row.text && registers::point_info(row.point).writable;
    if (can || row.access == Access::read_only) return;
    if (row.access == Access::write_only)
      return say(TableColumn::access, "can only be written there, and cannot be written here");
    row.access = Access::read_only;
    row.write_mask.reset();
    remark(TableColumn::access,
           words_of(MappedPoint{row.text ? std::nullopt : std::optional(row.point), row.text, row.flag}) +
               " cannot be written here: read-only");
  }

  void range(const registers::PointInfo& info, registers::Row& row) {
    if (!info.values.empty() || !info.flags.empty()) return;
    const auto text = cell(TableColumn::range);
    const auto low = cell(TableColumn::lowest);
    const auto high = cell(TableColumn::highest);
    std::pair<double, double> ends;
    std::optional<UnitCell> unit = unit_;
    auto column = TableColumn::range;
    if (!text.empty()) {
      const auto range = range_cell(text);
      if (!range) return remark(column, "'" + text + "' is no range such as 0..100, and is left out");
      ends = {range->lowest, range->highest};
      if (range->unit) unit = range->unit;
    } else if (!low.empty() && !high.empty()) {
      column = TableColumn::lowest;
      const auto lowest = plain_number(low);
      const auto highest = plain_number(high);
      if (!lowest || !highest || *lowest > *highest)
        return remark(column, "'" + low + "' to '" + high + "' is no range, and is left out");
      ends = {*lowest, *highest};
    } else {
      return;
    }
    if (unit && unit->dimension != info.dimension) return say(column, "the range is in '" + unit->text + "'");
    const bool carried = setting_.mapping.ranges == RangeHabit::as_carried;
    // The unit may have a factor of its own, which is the scale's: "0.1 A" is A.
    const double factor = carried ? row.layout.scale : plain_factor(unit, info.dimension);
    row.range = std::pair{ends.first * factor, ends.second * factor};
    fit_range(info, column, row);
  }

  static double plain_factor(const std::optional<UnitCell>& unit, Dimension dimension) {
    if (!unit) return natural_factor(dimension);
    const auto alone = unit_cell(unit->text);
    return alone && *alone ? (*alone)->factor : natural_factor(dimension);
  }

  /// Only what a master may write has to be in a range, and no wider one than the point takes.
  void fit_range(const registers::PointInfo& info, TableColumn column, registers::Row& row) {
    const auto [least, most] = registers::carried_range(row.layout);
    auto& [low, high] = *row.range;
    if (row.access == Access::read_only) {
      const bool fits = low >= least && high <= most &&
                        (!info.limits || (low >= info.limits->first && high <= info.limits->second));
      if (!fits) row.range.reset();
      return;
    }
    if (!info.limits) return;
    const auto [lowest, highest] = *info.limits;
    constexpr double kRounding = 1e-9;
    if (low >= lowest - kRounding && high <= highest * (1.0 + kRounding)) return;
    if (high < lowest || low > highest)
      return say(column, "the range has nothing in common with what " + std::string(info.name) + " takes");
    low = std::max(low, lowest);
    high = std::min(high, highest);
    remark(column, "the range is wider than " + std::string(info.name) + " takes, and is held to " +
                       format_quantity(low, info.dimension) + " to " + format_quantity(high, info.dimension));
  }

  void broken(registers::Row& row) {
    const auto text = cell(TableColumn::broken);
    if (text.empty() || row.layout.type == Type::bit) return;
    const auto number = plain_number(text);
    if (!number || *number < registers::lowest(row.layout) || *number > registers::highest(row.layout))
      return say(TableColumn::broken,
                 "expected the number that is carried where there is no value, found '" + text + "'");
    row.layout.broken = *number;
  }

  /// What the table's own check has against a row by itself.
  void check_rows() {
    for (const auto& made : meaning_.rows) {
      registers::TableParts alone;
      alone.rows.push_back(made.row);
      const auto problems = registers::problems_of(alone);
      if (!problems.empty()) return say(TableColumn::address, problems.front().message);
    }
  }

  const ImportSetting& setting_;
  const std::vector<std::string>& cells_;
  const RowPlace& place_;
  const std::string& register_name_;
  registers::Row row_;
  std::string name_;
  std::optional<UnitCell> unit_;
  double scale_ = 1.0;
  std::string unit_fault_;
  std::string scale_fault_;
  RowMeaning meaning_;
  std::optional<RowFault> fault_;
};

}  // namespace

Result<RowMeaning, RowFault> meaning_of_row(const ImportSetting& setting,
                                            const std::vector<std::string>& cells, const RowPlace& place,
                                            const std::string& register_name) {
  return MeaningReader(setting, cells, place, register_name).read();
}

}  // namespace emberline::io

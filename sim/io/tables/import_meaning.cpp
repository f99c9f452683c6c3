#include "sim/io/tables/import_meaning.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/io/files/values.hpp"
#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_labels.hpp"
#include "sim/io/tables/import_range.hpp"
#include "sim/io/tables/import_scale.hpp"
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
    meaning_.remarks = place_.remarks;
    if (!cell(TableColumn::fixed).empty()) {
      fixed();
    } else {
      said_ = stated_scale(setting_, cells_, name_);
      name_ = said_.name;
      fault_ = said_.contradiction;
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

  std::optional<Dimension> dimension() const {
    return said_.unit ? std::optional(said_.unit->dimension) : std::nullopt;
  }

  std::vector<Labelled> entries_in(TableColumn column) {
    std::vector<std::string> unread;
    auto entries = labelled_cell(cell(column), unread);
    for (const auto& piece : unread) remark(column, piece);
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
  bool is_enumeration(const MappedPoint& point) const {
    return point.point && !registers::point_info(*point.point).values.empty();
  }
  /// What the row or the mapping says itself, whatever its values look like.
  bool is_stated_point() const {
    const auto named = [this](const std::string& name) {
      return !name.empty() && setting_.mapping.points.contains(loose(name));
    };
    return !cell(TableColumn::point).empty() || named(cell(TableColumn::name)) || named(name_);
  }

  /// True if the entries are bits that the row as a whole is no point of ours for; masks become bits.
  bool lists_bits(std::vector<Labelled>& entries) {
    const auto is_bit = [](const Labelled& entry) { return entry.is_bit; };
    const bool any_bits = std::any_of(entries.begin(), entries.end(), is_bit);
    const bool any_masks =
        std::any_of(entries.begin(), entries.end(), [](const auto& e) { return e.hexadecimal; });
    if (!any_bits && !any_masks) return false;
    const auto sure = sure_point();
    if (fault_ || is_stated_point()) return false;
    if (sure && (is_flag_word(*sure) || is_enumeration(*sure))) return false;
    const auto guess = sure ? PointGuess{{*sure}, {}} : guess_point(name_, dimension());
    if (guess.candidates.size() == 1 && is_flag_word(guess.candidates.front())) return false;
    if (any_bits) return true;
    if (sure && !sure->point) return false;
    return is_list_of_masks(entries, guess, name_, setting_.mapping) && hexadecimal_to_bits(entries);
  }

  /// A register that lists bits, and is not just warnings or trips, becomes a row for each bit.
  void list_of_bits() {
    if (row_.layout.type == Type::text || registers::register_count(row_.layout) != 1 ||
        row_.layout.type == Type::bits)
      return;
    std::vector<std::string> unread;
    auto entries = labelled_cell(cell(TableColumn::values), unread);
    if (!lists_bits(entries)) return;
    const auto remarks_before = meaning_.remarks.size();
    for (const auto& entry : entries) {
      if (!entry.is_bit) {
        remark(TableColumn::values, "'" + entry.label + "' (" + std::to_string(entry.number) + ") is no bit");
        continue;
      }
      const auto bit = guess_bit(entry.label, name_, setting_.mapping);
      const auto what = "bit " + std::to_string(entry.number) + " '" + entry.label + "'";
      if (entry.number > 15 || bit.candidates.size() != 1) {
        remark(TableColumn::values,
               what + (entry.number > 15        ? " does not fit, a register has bits 0 to 15"
                       : bit.candidates.empty() ? " is nothing of ours"
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
    // An ordinary row after all tells its own.
    if (meaning_.rows.empty()) return meaning_.remarks.resize(remarks_before);
    for (const auto& piece : unread) remark(TableColumn::values, piece);
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
                                        ", not in '" + said_.unit->text + "'");
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
    made.because = "\"" + name_ + "\"" + (said_.unit && !bit ? ", " + said_.unit->text : "");
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
    meaning_.access_assumed = info.writable && !place_.access_stated;
    if (!fault_) fault_ = read_range(setting_, cells_, said_.unit, made.row, meaning_.remarks);
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
    if (!said_.unit_fault.empty()) return say(TableColumn::unit, said_.unit_fault);
    if (said_.unit && said_.unit->dimension != info.dimension)
      return say(TableColumn::unit, std::string(info.name) + " is measured in " +
                                        natural_name(info.dimension) + ", not in '" + said_.unit->text + "'");
    if (layout.type == Type::bit) {
      layout.scale = 1.0;
      return;
    }
    if (!said_.scale_fault.empty()) return say(TableColumn::scale, said_.scale_fault);
    const double own = said_.unit ? said_.unit->own_factor() : 1.0;
    if (auto fault = unused_scale(setting_, cells_, said_.number * own, made.row.address)) {
      fault_ = std::move(fault);
      return;
    }
    for (const auto& said : said_.remarks) meaning_.remarks.push_back(said);
    layout.scale = said_.number * (said_.unit ? said_.unit->factor : natural_factor(info.dimension));
    if (!(std::abs(layout.scale) > 0.0 && std::abs(layout.scale) <= kLargestQuantity)) {
      const auto column = said_.number == 1.0 ? TableColumn::unit : TableColumn::scale;
      return say(column, "'" + cell(column) + "' makes a scale that cannot be meant");
    }
    if (!said_.unit && !natural_unit(info.dimension).empty()) {
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
      numbers_only(entries, column, std::string(info.name));
      if (entries.empty()) return;
      auto values = read_values(entries, made.row.point, highest, setting_.mapping);
      if (!values)
        return say(column, values.error() + (entries.size() == kMostLabels
                                                 ? ", among the first " + std::to_string(kMostLabels)
                                                 : std::string()));
      read = std::move(values).value();
      made.row.values = read.numbers;
    } else {
      if (const auto bits = masks_to_bits(entries, made.row.point, !flags_stated, setting_.mapping); !bits)
        return say(column, bits.error());
      bits_that_fit(entries, column, registers::register_count(made.row.layout));
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

  /// A bit of an enumeration stands for no number of it that could be told.
  void numbers_only(std::vector<Labelled>& entries, TableColumn column, const std::string& point) {
    const auto is_bit = [](const Labelled& entry) { return entry.is_bit; };
    if (std::all_of(entries.begin(), entries.end(), is_bit)) {
      entries.clear();
      return say(column, "lists bits, and " + point + " is an enumeration: expected numbers");
    }
    for (const auto& entry : entries)
      if (entry.is_bit)
        remark(column,
               "bit " + std::to_string(entry.number) + " '" + entry.label + "' is no number of " + point);
    std::erase_if(entries, is_bit);
  }

  void bits_that_fit(std::vector<Labelled>& entries, TableColumn column, int registers) {
    const int highest = 16 * registers - 1;
    for (const auto& entry : entries)
      if (entry.number > highest)
        remark(column, "bit " + std::to_string(entry.number) + " '" + entry.label +
                           "' does not fit, there are bits 0 to " + std::to_string(highest));
    std::erase_if(entries, [&](const Labelled& entry) { return entry.number > highest; });
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
  StatedScale said_;
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

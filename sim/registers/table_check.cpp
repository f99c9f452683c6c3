#include "sim/registers/table_check.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <set>
#include <string>
#include <string_view>
#include <tuple>

#include "sim/base/quantity.hpp"

namespace emberline::registers {
namespace {

using modbus::Table;

bool is_read_only_table(Table table) {
  return table == Table::discrete_inputs || table == Table::input_registers;
}

/// Bits of a bit field that a type can carry; the sign is not one of them.
int flag_bits(Type type) {
  switch (type) {
    case Type::u16:
      return 16;
    case Type::s16:
      return 15;
    case Type::u32:
      return 32;
    case Type::s32:
      return 31;
    case Type::bits:
    case Type::u64:
      return 16;
    case Type::bit:
    case Type::f32:
    case Type::text:
      return 0;
  }
  return 0;
}

bool has_number(std::span<const Word> words, int number) {
  return std::any_of(words.begin(), words.end(), [number](const Word& w) { return w.second == number; });
}

std::string list_of(std::span<const Word> words) {
  std::string list;
  for (const auto& [word, number] : words) list += (list.empty() ? "" : ", ") + std::string(word);
  return list;
}

/// A value with all the digits a count can have, in the unit that files use.
std::string in_full(double value, Dimension dimension) {
  if (dimension == Dimension::logical) return format_quantity(value, dimension);
  constexpr int kDigits = 10;  // of the greatest 32-bit count
  std::array<char, 64> buffer{};
  // No minus in front of a nought.
  const double shown = value == 0.0 ? 0.0 : value / natural_factor(dimension);
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), shown, std::chars_format::general, kDigits)
          .ptr;
  const std::string unit(natural_unit(dimension));
  return std::string(buffer.data(), end) + (unit.empty() ? "" : " " + unit);
}

std::string in_full(const std::pair<double, double>& range, Dimension dimension) {
  return in_full(range.first, dimension) + " to " + in_full(range.second, dimension);
}

std::string described(const Row& row) {
  return std::string(point_info(row.point).name) + " at " + both_ways(row.address, row.table);
}

/// Collects what is wrong with one row.
class RowCheck {
 public:
  RowCheck(const Row& row, std::vector<Diagnostic>& problems)
      : row_(row), info_(point_info(row.point)), problems_(problems) {}

  void run() {
    check_place();
    check_access();
    check_scale();
    check_values();
    check_flags();
    check_range();
  }

 private:
  void say(const std::string& what) { problems_.push_back({row_.place, described(row_) + ": " + what}); }
  bool is_bit() const { return row_.layout.type == Type::bit; }
  std::string type() const { return std::string(to_word(row_.layout.type)); }

  void check_place() {
    if (modbus::carries_bits(row_.table)) {
      if (!is_bit()) say("coils and discrete inputs carry single bits: expected type bit, found " + type());
      if (row_.bit_position != 0) say("a coil or discrete input has no bit position");
    } else if (is_bit()) {
      if (row_.bit_position < 0 || row_.bit_position > 15)
        say("a bit of a register has a position from 0 to 15, found " + std::to_string(row_.bit_position));
    } else if (row_.bit_position != 0) {
      say("only the type bit has a bit position, found type " + type());
    }
    if (row_.address + register_count(row_.layout) > 0x10000)
      say("a " + type() + " takes two registers and would run past the last address");
  }

  void check_access() {
    if (row_.access == Access::read_only) return;
    if (is_read_only_table(row_.table))
      say("discrete inputs and input registers cannot be written: expected access read-only");
    else if (!info_.writable)
      say("this point cannot be written: expected access read-only");
  }

  void check_scale() {
    const double scale = row_.layout.scale;
    if (!std::isfinite(scale) || scale == 0.0) say("the scale has to be a number other than 0");
    if (!is_bit() && scale != 1.0 && !(info_.values.empty() && info_.flags.empty()))
      say("this point carries words, not a quantity, and has no scale");
  }

  void check_values() {
    if (row_.values.empty()) return;
    if (info_.values.empty()) return say("this point has no words to number with `values`");
    if (is_bit()) return say("a single bit cannot carry `values`");
    for (const auto& [ours, carried] : row_.values) {
      if (!has_number(info_.values, ours))
        say("`values` names " + std::to_string(ours) +
            ", which the point does not have: " + list_of(info_.values));
      constexpr int kFloatWhole = 1 << 24;  // whole numbers up to here are exact in IEEE 754 single precision
      const bool fits = row_.layout.type == Type::f32
                            ? carried >= -kFloatWhole && carried <= kFloatWhole
                            : carried >= lowest(row_.layout) && carried <= highest(row_.layout);
      if (!fits) say("the number " + std::to_string(carried) + " does not fit the type " + type());
    }
    std::map<int, std::string_view> taken;
    for (const auto& [word, ours] : info_.values) {
      const auto listed = row_.values.find(ours);
      const int carried = listed == row_.values.end() ? ours : listed->second;
      const auto [other, fresh] = taken.emplace(carried, word);
      if (!fresh)
        say("the number " + std::to_string(carried) + " would mean both " + std::string(other->second) +
            " and " + std::string(word) + "; a word that `values` does not list keeps its own number");
    }
  }

  void check_flags() {
    if (row_.flag) {
      if (!is_bit() || info_.flags.empty())
        say("`flag` picks one bit of warnings or trips for a row of type bit");
      else if (!has_number(info_.flags, *row_.flag))
        say("no flag has the number " + std::to_string(*row_.flag) + ": " + list_of(info_.flags));
    }
    if (!row_.flags.empty() && (info_.flags.empty() || is_bit()))
      return say("`flags` places the bits of warnings or trips in a whole register");
    if (info_.flags.empty() || is_bit()) return;
    const int bits = flag_bits(row_.layout.type);
    if (bits == 0) return say("a bit field needs an integer type, found " + type());
    std::set<int> taken;
    for (const auto& [ours, carried] : row_.flags) {
      if (!has_number(info_.flags, ours))
        say("no flag has the number " + std::to_string(ours) + ": " + list_of(info_.flags));
      if (carried < 0 || carried >= bits)
        say("bit " + std::to_string(carried) + " does not fit the type " + type() + ": expected 0 to " +
            std::to_string(bits - 1));
      if (!taken.insert(carried).second) say("bit " + std::to_string(carried) + " is used for two flags");
    }
  }

  void check_range() {
    if (!row_.range) return;
    const auto [low, high] = *row_.range;
    if (!std::isfinite(low) || !std::isfinite(high) || low > high)
      return say("the range has to go from a lower to a higher value");
    if (!type_carries(low, high))
      return say("the range " + in_full(*row_.range, info_.dimension) + " does not fit the type " + type() +
                 ", which with this scale carries " + in_full(carried_range(row_.layout), info_.dimension));
    if (!info_.limits) return;
    const auto [least, most] = *info_.limits;
    const double slack = 1e-9 * std::max(std::abs(least), std::abs(most));  // of reading "100 %" alone
    if (low < least - slack || high > most + slack)
      say("the range " + in_full(*row_.range, info_.dimension) + " is wider than " + std::string(info_.name) +
          " takes: " + in_full(*info_.limits, info_.dimension));
  }

  bool type_carries(double low, double high) const {
    if (!info_.values.empty() && !is_bit()) return true;  // of our own numbers, whatever is carried
    const double scale = is_bit() ? 1.0 : row_.layout.scale;
    const auto [least, most] = std::minmax({low / scale, high / scale});
    const auto whole = [this](double count) {
      return row_.layout.type == Type::f32 ? count : std::round(count);
    };
    return whole(least) >= lowest(row_.layout) && whole(most) <= highest(row_.layout);
  }

  const Row& row_;
  const PointInfo& info_;
  std::vector<Diagnostic>& problems_;
};

bool overlap(const Row& a, const Row& b) {
  if (a.table != b.table) return false;
  const bool apart =
      a.address + register_count(a.layout) <= b.address || b.address + register_count(b.layout) <= a.address;
  if (apart) return false;
  const bool both_bits = a.layout.type == Type::bit && b.layout.type == Type::bit;
  return !both_bits || a.bit_position == b.bit_position;
}

std::string line_of(const Row& row) {
  return row.place.line > 0 ? ", line " + std::to_string(row.place.line) : "";
}

void check_overlaps(const std::vector<Row>& rows, std::vector<Diagnostic>& problems) {
  // Sorted by address, only the next few rows can reach into one; a whole table against itself would be
  // slow for the largest ones.
  std::vector<std::size_t> order(rows.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::sort(order.begin(), order.end(), [&rows](std::size_t a, std::size_t b) {
    const auto key = [&rows](std::size_t i) { return std::tuple(rows[i].table, rows[i].address, i); };
    return key(a) < key(b);
  });
  std::vector<std::pair<std::size_t, std::size_t>> pairs;  // the later row in the file, the earlier one
  for (std::size_t i = 0; i < order.size(); ++i) {
    const Row& row = rows[order[i]];
    for (std::size_t j = i + 1; j < order.size(); ++j) {
      const Row& next = rows[order[j]];
      if (next.table != row.table || next.address >= row.address + register_count(row.layout)) break;
      if (overlap(row, next)) pairs.emplace_back(std::max(order[i], order[j]), std::min(order[i], order[j]));
    }
  }
  std::sort(pairs.begin(), pairs.end());
  for (const auto& [later, earlier] : pairs)
    problems.push_back({rows[later].place, described(rows[later]) + " overlaps " + described(rows[earlier]) +
                                               line_of(rows[earlier])});
}

}  // namespace

std::pair<double, double> carried_range(const Layout& layout) {
  const double scale = layout.type == Type::bit ? 1.0 : layout.scale;
  return std::minmax({lowest(layout) * scale, highest(layout) * scale});
}

std::vector<Diagnostic> problems_of(const TableParts& parts) {
  std::vector<Diagnostic> problems;
  for (const auto& row : parts.rows) {
    RowCheck(row, problems).run();
    if (parts.input_same_as_holding && row.table == Table::input_registers)
      problems.push_back({row.place,
                          "input registers that are the same as holding leave no place for rows "
                          "of their own, found " +
                              std::string(point_info(row.point).name)});
  }
  check_overlaps(parts.rows, problems);
  return problems;
}

}  // namespace emberline::registers

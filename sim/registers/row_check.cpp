// What can be wrong with one row of a table.
#include "sim/registers/row_check.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <set>
#include <string>
#include <string_view>

#include "sim/base/quantity.hpp"
#include "sim/registers/table_check.hpp"

namespace emberline::registers {
namespace {

using modbus::Table;

bool is_read_only_table(Table table) {
  return table == Table::discrete_inputs || table == Table::input_registers;
}

/// As long as an object of an identity can be, and within what one read brings.
constexpr int kTextRegisters = 122;

bool is_printable(char c) { return c >= ' ' && c <= '~'; }

}  // namespace

int flag_bits(const Layout& layout) {
  if (layout.coding != Coding::binary) return 0;
  switch (layout.type) {
    case Type::u16:
      return 16;
    case Type::s16:
      return 15;
    case Type::u32:
      return 32;
    case Type::s32:
      return 31;
    case Type::u64:
      return 64;
    case Type::bits:
      return std::popcount(layout.mask);
    case Type::bit:
    case Type::f32:
    case Type::text:
      return 0;
  }
  return 0;
}

std::string described(const Row& row) {
  return std::string(name_of(row)) + " at " + both_ways(row.address, row.table);
}

namespace {

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
  constexpr double kMost = 1e10;  // the greatest 32-bit count is below
  std::array<char, 64> buffer{};
  // No minus in front of a nought.
  const double shown = value == 0.0 ? 0.0 : value / natural_factor(dimension);
  const int digits = std::abs(shown) < kMost ? 10 : 16;
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), shown, std::chars_format::general, digits)
          .ptr;
  const std::string unit(natural_unit(dimension));
  return std::string(buffer.data(), end) + (unit.empty() ? "" : " " + unit);
}

std::string in_full(const std::pair<double, double>& range, Dimension dimension) {
  return in_full(range.first, dimension) + " to " + in_full(range.second, dimension);
}

std::string hexadecimal_or_none(std::uint16_t mask) { return mask == 0 ? "none" : hexadecimal(mask); }

/// Collects what is wrong with one row.
class RowCheck {
 public:
  RowCheck(const Row& row, std::vector<Diagnostic>& problems)
      : row_(row), info_(point_info(row.point)), problems_(problems) {}

  void run() {
    check_place();
    check_masks();
    if (row_.layout.type == Type::text) return check_text();
    if (row_.text) return say("is text that the unit says of itself: expected type text, found " + type());
    check_coding();
    if (row_.fixed) return check_fixed();
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
    const int size = register_count(row_.layout);
    if (row_.address + size > 0x10000)
      say("a " + type() + " takes " +
          (size == 2   ? "two"
           : size == 4 ? "four"
                       : std::to_string(size)) +
          " registers and would run past the last address");
  }

  void check_masks() {
    const auto mask = row_.layout.mask;
    if (row_.layout.type == Type::bits) {
      const unsigned low = mask == 0 ? 0u : static_cast<unsigned>(mask) >> std::countr_zero(mask);
      if (mask == 0 || (low & (low + 1)) != 0)
        say("the type bits needs a mask of bits without a gap, such as 0x00F0, found " +
            hexadecimal_or_none(mask));
    } else if (mask != 0xFFFF) {
      say("only the type bits has a mask, found type " + type());
    }
    if (!row_.write_mask) return;
    if (row_.table != Table::holding_registers) return say("only holding registers have a write mask");
    if (row_.layout.type == Type::text || register_count(row_.layout) != 1)
      return say("a write mask needs a type of one register, found " + type());
    if (row_.access == Access::read_only) return say("a row that is read-only has no write mask");
    if ((*row_.write_mask & own_bits(row_)) == 0)
      say("the write mask " + hexadecimal_or_none(*row_.write_mask) +
          " lets through no bit of this row, so it could not be written: expected access read-only");
  }

  void check_coding() {
    const auto type_is = [this](std::initializer_list<Type> types) {
      return std::find(types.begin(), types.end(), row_.layout.type) != types.end();
    };
    if (row_.layout.coding == Coding::sign_magnitude && !type_is({Type::s16, Type::s32}))
      say("the coding sign-magnitude needs the type s16 or s32, found " + type());
    if (row_.layout.coding == Coding::bcd && !type_is({Type::u16, Type::u32, Type::u64}))
      say("the coding bcd needs the type u16, u32 or u64, found " + type());
  }

  /// What rows without a point cannot have: only points are written, kept, scaled and renumbered.
  void check_plain(const std::string& what) {
    if (row_.access != Access::read_only) say(what + " cannot be written: expected access read-only");
    const bool more = row_.layout.scale != 1.0 || row_.range || row_.flag || !row_.values.empty() ||
                      !row_.flags.empty() || row_.kept || row_.layout.broken;
    if (more) say(what + " stands as it is: no scale, range, values, flags, flag, kept or broken");
  }

  void check_text() {
    const int size = row_.layout.text_registers;
    if (size < 1 || size > kTextRegisters)
      say("text takes 1 to " + std::to_string(kTextRegisters) + " registers, found " + std::to_string(size));
    if (row_.layout.coding != Coding::binary || row_.layout.word_order != WordOrder::high_first)
      say("text has no coding, and its registers stand in the order they are read in");
    check_plain("text");
    if (row_.fixed)
      return say("a row of type text states characters, not the number " + format_number(*row_.fixed));
    const auto& fixed = row_.fixed_text;
    if (row_.text && !fixed.empty()) return say("is either what the unit says of itself or fixed, not both");
    if (fixed.size() > 2 * static_cast<std::size_t>(std::max(size, 0)))
      say("the text has " + std::to_string(fixed.size()) + " characters, and " + std::to_string(size) +
          (size == 1 ? " register holds " : " registers hold ") + std::to_string(2 * size));
    if (!std::all_of(fixed.begin(), fixed.end(), is_printable))
      say("the text has to be of printable ASCII characters");
  }

  void check_fixed() {
    check_plain("a fixed number");
    const double count = *row_.fixed;
    const bool whole = row_.layout.type == Type::f32 ? std::isfinite(count) : count == std::round(count);
    if (!whole || count < lowest(row_.layout) || count > highest(row_.layout))
      say("the number " + in_full(count, Dimension::number) + " does not fit the type " + type() +
          ": expected " + (row_.layout.type == Type::f32 ? "" : "a whole number from ") +
          in_full({lowest(row_.layout), highest(row_.layout)}, Dimension::number));
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
    check_words_fit();
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

  /// Of a few bits only: any other type has room for our own numbers.
  void check_words_fit() {
    if (row_.layout.type != Type::bits) return;
    for (const auto& [word, ours] : info_.values) {
      if (row_.values.contains(ours) || ours <= highest(row_.layout)) continue;
      return say("the mask has room for 0 to " + format_number(highest(row_.layout)) + ", and " +
                 std::string(word) + " is " + std::to_string(ours) +
                 ": expected `values` that says how it is carried");
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
    const int bits = flag_bits(row_.layout);
    if (row_.layout.coding != Coding::binary)
      return say("a bit field needs the coding binary, found " + std::string(to_word(row_.layout.coding)));
    if (bits == 0) return say("a bit field needs an integer type, found " + type());
    if (row_.flags.empty() && info_.flags.back().second >= bits)
      return say("its bits go up to " + std::to_string(info_.flags.back().second) + ", and the type " +
                 type() + " has room for " + std::to_string(bits) +
                 " here: expected `flags` that says where they stand");
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

}  // namespace

void check_row(const Row& row, std::vector<Diagnostic>& problems) { RowCheck(row, problems).run(); }

}  // namespace emberline::registers

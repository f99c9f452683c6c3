#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "sim/base/diagnostic.hpp"
#include "sim/base/result.hpp"
#include "sim/io/files/load.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// What a column of somebody else's register table can hold.
enum class TableColumn : std::uint8_t {
  table,
  address,
  name,
  point,
  type,
  registers,
  scale,
  unit,
  access,
  range,
  lowest,
  highest,
  word_order,
  byte_order,
  coding,
  bit,
  mask,
  write_mask,
  values,
  flags,
  flag,
  out_of_range,
  kept,
  split,
  broken,
  fixed,
  meaning,
};
inline constexpr std::size_t kTableColumns = static_cast<std::size_t>(TableColumn::meaning) + 1;
/// The word of a column in a mapping: "word_order".
[[nodiscard]] std::string_view to_word(TableColumn column);

/// How a scale is written: value = number carried * scale, / scale, or / 10^scale.
enum class ScaleHabit : std::uint8_t { factor, divisor, decimals };
/// How addresses are written; as_written: hexadecimal where they begin with 0x or end in h.
enum class AddressHabit : std::uint8_t { as_written, decimal, hexadecimal };
/// Where single bits of a register stand; any: wherever one is found.
enum class BitHabit : std::uint8_t { any, in_address, own_rows, column };
/// Whether ends of a range are values in their unit, or the numbers that are carried.
enum class RangeHabit : std::uint8_t { in_units, as_carried };

/// What a row of the table is told to carry: a point, one flag of it, or a text of the unit.
struct MappedPoint {
  std::optional<registers::Point> point{};
  std::optional<registers::TextPoint> text{};
  std::optional<int> flag{};  ///< of warnings or trips, our number

  friend bool operator==(const MappedPoint&, const MappedPoint&) = default;
};
/// The point that `words` names: "setpoint", "warnings.comms-loss", "product_code".
[[nodiscard]] std::optional<MappedPoint> mapped_point(std::string_view words);

/// How to read somebody else's register table: a file that begins with `table_mapping: NAME`. What is not
/// said is as here, which is what plain tables are read with.
struct TableMapping {
  struct Header {
    std::string text;  ///< of the column, as the mapping has it
    Place place{};
  };

  std::string name = "plain";
  std::string title;              ///< of the register table that is made; empty: the CSV's name
  std::optional<char> delimiter;  ///< nothing: the one that parts the header into most columns
  int skip_rows = 0;              ///< above the header
  std::map<TableColumn, Header> columns{};
  std::optional<registers::Numbering> numbering{};  ///< nothing: zero-based, or reference where all look so
  AddressHabit addresses = AddressHabit::as_written;
  modbus::Table table = modbus::Table::holding_registers;
  registers::WordOrder word_order = registers::WordOrder::high_first;
  registers::ByteOrder byte_order = registers::ByteOrder::high_first;
  std::optional<ScaleHabit> scale{};  ///< nothing: as the header of the column says, else factor
  RangeHabit ranges = RangeHabit::in_units;
  BitHabit bits = BitHabit::any;
  bool unplaced_fixed = false;  ///< rows without a point of ours become `fixed: 0`
  // Words of the table, by loose(word), and what they stand for.
  std::map<std::string, registers::Type> types{};
  std::map<std::string, registers::Access> access{};
  std::map<std::string, modbus::Table> tables{};
  std::map<std::string, MappedPoint> points{};
  std::map<std::string, std::string> words{};  ///< of enumerations and bits: ours, such as "running"
};

/// A word of a table as it is compared: small letters, and digits; nothing of blanks and punctuation. Letters
/// beyond ASCII stay as they are.
[[nodiscard]] std::string loose(std::string_view word);

/// Reads a mapping.
[[nodiscard]] Result<TableMapping, Problems> load_table_mapping(const std::string& path);

}  // namespace emberline::io

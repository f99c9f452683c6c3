#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/registers/address.hpp"
#include "sim/registers/codec.hpp"
#include "sim/registers/point.hpp"

namespace emberline::registers {

/// What a master may do with a row.
enum class Access : std::uint8_t { read_only, read_write, write_only };
/// What becomes of a written value outside its range: refused with 03 or 04, held at the nearer end, or
/// answered as if it were taken while nothing changes.
enum class OutOfRange : std::uint8_t { exception_03, exception_04, clamp, ignore };
/// What a read that runs over unmapped addresses gets there: exception 02, or zeros (a read of unmapped ones
/// alone is 02 all the same).
enum class Gaps : std::uint8_t { exception, zero };

/// What a unit can say of itself in characters: the objects of its identity (function code 2B/0E).
enum class TextPoint : std::uint8_t {
  vendor_name,
  product_code,
  revision,
  vendor_url,
  product_name,
  model_name,
  application_name
};
/// The word of a text point in a register table: "product_code".
[[nodiscard]] std::string_view to_word(TextPoint point);
/// The text point with this word.
[[nodiscard]] std::optional<TextPoint> find_text_point(std::string_view word);
/// All of them.
[[nodiscard]] std::span<const TextPoint> all_text_points();

/// One line of a register table: a point at an address; or, with `text`, characters; or, with `fixed`, a
/// number or characters that the table itself states. `point` means nothing in the latter two.
struct Row {
  modbus::Table table = modbus::Table::holding_registers;
  std::uint16_t address = 0;  ///< zero-based
  Point point = Point::setpoint;
  std::optional<TextPoint> text{};  ///< Type::text: what the unit says of itself
  std::optional<double> fixed{};    ///< the count that always stands here
  std::string fixed_text{};         ///< Type::text without `text`: the characters that always stand here
  Layout layout{};
  int bit_position = 0;  ///< Type::bit in a 16-bit register: which bit, 0 = least significant
  std::optional<int>
      flag{};  ///< Type::bit of warnings or trips: which of our bits; otherwise the bit is "value is not 0"
  /// Our number -> number carried (state, setpoint_source, comms_policy); what is not listed stays as ours.
  std::map<int, int> values{};
  /// Our bit -> bit carried (warnings, trips as a word). Empty: as ours; else bits not listed are not
  /// carried.
  std::map<int, int> flags{};
  Access access = Access::read_only;
  /// Bits of the register a write changes; the others keep what they are, and rows that stand in those alone
  /// are not written. If one row of a register has it, those of all its rows together count, and a row that
  /// has none and can be written counts with its own bits. Types of one register only.
  std::optional<std::uint16_t> write_mask{};
  std::string words{};  ///< the name of the table's enumeration that `values` or `flags` came from
  std::optional<std::pair<double, double>> range{};  ///< lowest and highest accepted value, SI; a writable
                                                     ///< quantity without one gets the point's limits
  OutOfRange out_of_range = OutOfRange::exception_03;
  bool kept = false;           ///< non-volatile: survives a power cycle of the unit
  bool split_refused = false;  ///< `split: refuse`: half of a 32-bit value cannot be read (02)
  Place place{};               ///< where the row stands in its file, for messages
};

/// True for a row that carries a point: neither text nor fixed.
[[nodiscard]] bool carries_point(const Row& row);
/// What stands there, for messages and listings: "load_current_l1", "product_code", "fixed".
[[nodiscard]] std::string_view name_of(const Row& row);
/// The bits of its register that a row stands in, byte order left aside: of `bit` one, of `bits` its mask,
/// else all.
[[nodiscard]] std::uint16_t own_bits(const Row& row);
/// True for a row that other rows may share its register with, as long as their bits differ.
[[nodiscard]] bool shares_register(const Row& row);

/// A register table as a file gives it. Build through make_register_table, which checks it.
struct TableParts {
  std::string title;
  Gaps gaps = Gaps::exception;
  bool input_same_as_holding = false;
  std::vector<Row> rows;
};

/// What a table reads and writes: the points of one unit. Values in SI.
class PointAccess {
 public:
  virtual ~PointAccess() = default;
  /// The value as it is now, SI.
  [[nodiscard]] virtual double read(Point point) const = 0;
  /// Whether the unit would take this value now; nothing is changed.
  [[nodiscard]] virtual Result<Done, modbus::Refusal> may_write(Point point, double value) const = 0;
  /// What the unit says of itself; empty where it says nothing.
  [[nodiscard]] virtual std::string text(TextPoint point) const = 0;
  /// Takes a value that may_write accepted.
  virtual void write(Point point, double value) = 0;
  /// A value that a master asked to write, in SI before any clamping, and what became of it. If one value of
  /// a request is refused, all of them are.
  struct Asked {
    Point point;
    double asked;
    enum class Fate { accepted, clamped, ignored, refused } fate;
  };
  /// Told of every value of a write whose addresses are right (02 does not reach it), whatever its fate,
  /// before write() is called for it: a journal and a verdict see from it what the master asked for.
  virtual void asked(const Asked& what) = 0;
  /// A value did not fit its register's type and stands at the end of its range.
  virtual void saturated(const Row& row, double value) const = 0;
};

/// What the plain registers of one unit, which has one table, carried when they were read last: a value that
/// has not moved since needs not be encoded again, and most have not where a master asks quickly.
class LastWords {
  friend class RegisterTable;
  struct Word {
    std::uint64_t bits = 0;  // of the value
    std::uint16_t word = 0;
    bool known = false;
  };
  std::vector<Word> words_;  // by row
};

/// Which point stands at which address. Immutable, shared by all units that use the file.
///
/// Reading: rows that are write_only count as unmapped. Rows of type bit and bits may share a register; its
/// other bits read 0, and writing it writes all its rows, so one read-only row among them makes that a 02,
/// unless a write mask keeps the write off it. All registers of one value come from one reading.
/// Writing: NaN, infinities, numbers outside a row's range and numbers an enumeration does not know are out
/// of range; `clamp` refuses with 03 what has no nearest value. A row without a range has the limits of
/// its point.
class RegisterTable {
 public:
  /// What the file calls itself.
  [[nodiscard]] const std::string& title() const;
  /// What unmapped addresses read as.
  [[nodiscard]] Gaps gaps() const;
  /// All rows, by table, address and bit; input_same_as_holding shows as rows of both tables.
  [[nodiscard]] const std::vector<Row>& rows() const;
  /// The row to use for a point: writable ones first when `for_writing`; otherwise the first row of the file,
  /// holding registers before the others. Null if the point is not in the table.
  [[nodiscard]] const Row* find(Point point, bool for_writing = false) const;
  /// The row that an address of a table belongs to, the first of several bits; null if it is unmapped.
  [[nodiscard]] const Row* row_at(modbus::Table table, int address) const;
  /// The row of a text; as with points the first of the file, holding registers first.
  [[nodiscard]] const Row* find_text(TextPoint point) const;
  /// True if any row of the point is `kept`.
  [[nodiscard]] bool keeps(Point point) const;

  // The data model over a unit's points. Order: address (02), then value (03/04); writes are all or nothing.
  [[nodiscard]] Result<std::vector<bool>, modbus::Refusal> read_bits(modbus::Table, modbus::AddressRange,
                                                                     const PointAccess&) const;
  [[nodiscard]] Result<std::vector<std::uint16_t>, modbus::Refusal> read_registers(modbus::Table,
                                                                                   modbus::AddressRange,
                                                                                   const PointAccess&,
                                                                                   LastWords&) const;
  /// Without a memory of earlier reads.
  [[nodiscard]] Result<std::vector<std::uint16_t>, modbus::Refusal> read_registers(
      modbus::Table table, modbus::AddressRange range, const PointAccess& points) const {
    LastWords none;
    return read_registers(table, range, points, none);
  }
  [[nodiscard]] Result<Done, modbus::Refusal> write_bits(std::uint16_t first, const std::vector<bool>& values,
                                                         PointAccess&) const;
  [[nodiscard]] Result<Done, modbus::Refusal> write_registers(std::uint16_t first,
                                                              const std::vector<std::uint16_t>& values,
                                                              PointAccess&) const;

 private:
  struct Cell;
  [[nodiscard]] std::uint16_t plain_word(const Cell& cell, double value, const PointAccess& points,
                                         LastWords::Word& last) const;
  /// One mapped address. Rows that share a register stand next to each other in rows_.
  struct Cell {
    std::uint16_t address;
    std::uint16_t word;  // which of its registers, of a value that takes several
    std::size_t first_row;
    std::size_t row_count;
    std::optional<std::uint16_t> write_mask{};  // what a write changes, as it stands in the register
    bool plain = false;  // one row that can be read: a point as a number in this register alone
    Point point{};       // which, where it is plain: rows are large, and far from each other
  };
  /// The same row, seen from a write: what its registers ask for and what becomes of it.
  struct Wanted {
    const Row* row;
    PointAccess::Asked what;
    double accepted;
  };
  using Cells = std::vector<Cell>;

  RegisterTable() = default;
  void index(const std::vector<Row>& in_file_order);
  const Cells& cells(modbus::Table table) const;
  std::span<const Row> rows_of(const Cell& cell) const;
  std::optional<std::uint16_t> write_mask_of(const Cell& cell) const;
  /// True if a write of this register writes the row.
  static bool is_written(const Cell& cell, const Row& row);
  /// What a register becomes: the written word, in the bits that no write changes what stands there now.
  std::uint16_t merged(const Cell& cell, std::uint16_t word, const PointAccess& points) const;
  Result<Done, modbus::Refusal> write(modbus::Table table, std::uint16_t first,
                                      std::span<const std::uint16_t> words, PointAccess& points) const;
  /// The cells of a write, one for every address; nothing if one cannot be written (02).
  std::optional<std::span<const Cell>> writable_cells(modbus::Table table, std::uint16_t first,
                                                      std::size_t count) const;

  std::string title_;
  Gaps gaps_ = Gaps::exception;
  std::vector<Row> rows_;
  std::array<Cells, 4> cells_;
  std::array<std::optional<std::size_t>, kPointCount> for_reading_;  // index into rows_
  std::array<std::optional<std::size_t>, kPointCount> for_writing_;
  std::array<bool, kPointCount> kept_{};
  std::map<TextPoint, std::size_t> texts_;

  friend Result<std::shared_ptr<const RegisterTable>, std::vector<Diagnostic>> make_register_table(
      TableParts);
};

/// Checks and indexes a table. Refuses, each with the row's place: overlaps (naming the other row), a range
/// or an enumeration that does not fit the type and scale, a range wider than the point takes, access that
/// the point does not have, bits in 32-bit types, types of more than a bit in coil and discrete tables,
/// values that run past the last address, masks and codings that do not fit the type, text and fixed values
/// that can be written or are longer than their registers.
[[nodiscard]] Result<std::shared_ptr<const RegisterTable>, std::vector<Diagnostic>> make_register_table(
    TableParts parts);

/// One value as a master carries it: for read/write commands and stand-ins, which know the table too.
/// The raw numbers renumbered by `values`/`flags` are mapped both ways; a number that an enumeration does not
/// know decodes to NaN. A bit in a 16-bit register is the register with that bit alone; a bit that stands for
/// one of our flags decodes to that flag's value or 0. A fixed row carries its count; not for text.
[[nodiscard]] Words encode_row(const Row& row, double value);
[[nodiscard]] double decode_row(const Row& row, std::span<const std::uint16_t> words);

}  // namespace emberline::registers

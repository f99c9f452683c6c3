// Writing through a register table: all addresses first, then all values, then all writes.
#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <cstddef>
#include <limits>
#include <memory_resource>
#include <vector>

#include "sim/registers/register_table.hpp"

namespace emberline::registers {
namespace {

using modbus::Refusal;
using modbus::Table;
using Fate = PointAccess::Asked::Fate;

/// A mask as it stands in the register.
std::uint16_t on_the_wire(std::uint16_t mask, ByteOrder order) {
  const Layout layout{.type = Type::u16, .byte_order = order};
  return encode_flags(mask, layout).words[0];
}

/// How far beyond its range a value may seem to be for arithmetic alone: 300 counts of 0.1 % are not exactly
/// 30 %, and 30 % as a float may lie one rounding above.
double rounding_slack(const Row& row, double end) {
  if (row.layout.type == Type::f32) return std::numeric_limits<float>::epsilon() * std::abs(end);
  return 1e-6 * std::abs(row.layout.scale);
}

struct Judged {
  Fate fate;
  double accepted = 0.0;
  Refusal refusal = Refusal::illegal_data_value;
};

Judged out_of_range(const Row& row, double asked) {
  switch (row.out_of_range) {
    case OutOfRange::exception_03:
      return {Fate::refused, 0.0, Refusal::illegal_data_value};
    case OutOfRange::exception_04:
      return {Fate::refused, 0.0, Refusal::server_device_failure};
    case OutOfRange::ignore:
      return {Fate::ignored};
    case OutOfRange::clamp:
      break;
  }
  if (!std::isfinite(asked) || !row.range) return {Fate::refused, 0.0, Refusal::illegal_data_value};
  return {Fate::clamped, std::clamp(asked, row.range->first, row.range->second)};
}

Judged judge(const Row& row, double asked) {
  if (!std::isfinite(asked)) return out_of_range(row, asked);
  if (!row.range) {
    // What a u64 holds beyond the whole numbers of a double could not be read back as it was written.
    const bool exact = row.layout.type != Type::u64 || !row.flags.empty() ||
                       std::abs(asked) <= highest(row.layout) * std::abs(row.layout.scale);
    return exact ? Judged{Fate::accepted, asked} : out_of_range(row, asked);
  }
  const auto [low, high] = *row.range;
  if (asked < low - rounding_slack(row, low) || asked > high + rounding_slack(row, high))
    return out_of_range(row, asked);
  return {Fate::accepted, std::clamp(asked, low, high)};
}

}  // namespace

std::optional<std::span<const RegisterTable::Cell>> RegisterTable::writable_cells(Table table,
                                                                                  std::uint16_t first,
                                                                                  std::size_t count) const {
  const auto& mapped = cells(table);
  const auto begin =
      std::lower_bound(mapped.begin(), mapped.end(), first,
                       [](const Cell& c, std::uint16_t address) { return c.address < address; });
  const auto left = static_cast<std::size_t>(mapped.end() - begin);
  if (count == 0 || left < count) return std::nullopt;
  const std::span<const Cell> block(begin, begin + static_cast<std::ptrdiff_t>(count));
  // Addresses are in order and different, so none is missing if the first and the last are where they belong.
  if (block.front().address != first || block.back().address != first + count - 1) return std::nullopt;
  for (const auto& cell : block)
    for (const auto& row : rows_of(cell))
      if (row.access == Access::read_only && is_written(cell, row)) return std::nullopt;
  const auto& last = block.back();
  const bool cut_at_end = last.word + 1 != register_count(rows_of(last).front().layout);
  if (block.front().word != 0 || cut_at_end) return std::nullopt;  // part of a value of several registers
  return block;
}

std::optional<std::uint16_t> RegisterTable::write_mask_of(const Cell& cell) const {
  const auto rows = rows_of(cell);
  if (std::none_of(rows.begin(), rows.end(), [](const Row& row) { return row.write_mask.has_value(); }))
    return std::nullopt;
  unsigned mask = 0;
  for (const auto& row : rows) {
    if (row.write_mask) {
      mask |= *row.write_mask;
    } else if (row.access != Access::read_only) {
      mask |= own_bits(row);
    }
  }
  return on_the_wire(static_cast<std::uint16_t>(mask), rows.front().layout.byte_order);
}

bool RegisterTable::is_written(const Cell& cell, const Row& row) {
  return !cell.write_mask || (*cell.write_mask & on_the_wire(own_bits(row), row.layout.byte_order)) != 0;
}

std::uint16_t RegisterTable::merged(const Cell& cell, std::uint16_t word, const PointAccess& points) const {
  if (!cell.write_mask) return word;
  unsigned now = 0;
  for (const auto& row : rows_of(cell))
    now |= encode_row(row, row.fixed ? *row.fixed : points.read(row.point)).words[0];
  const unsigned mask = *cell.write_mask;
  return static_cast<std::uint16_t>((now & ~mask) | (word & mask));
}

Result<Done, Refusal> RegisterTable::write(Table table, std::uint16_t first,
                                           std::span<const std::uint16_t> words, PointAccess& points) const {
  const auto block = writable_cells(table, first, words.size());
  if (!block) return Failure{Refusal::illegal_data_address};

  // Mostly one or two: of these none is worth memory of its own.
  std::array<std::byte, 4 * sizeof(Wanted)> room;
  std::pmr::monotonic_buffer_resource memory(room.data(), room.size());
  std::pmr::vector<Wanted> wanted(&memory);
  std::optional<Refusal> refusal;  // the first one counts
  for (std::size_t i = 0; i < block->size(); ++i) {
    const auto& cell = (*block)[i];
    if (cell.word != 0) continue;
    const auto word = merged(cell, words[i], points);
    for (const auto& row : rows_of(cell)) {
      if (!is_written(cell, row)) continue;
      const auto carried = cell.write_mask
                               ? std::span(&word, 1)
                               : words.subspan(i, static_cast<std::size_t>(register_count(row.layout)));
      const double asked = decode_row(row, carried);
      auto judged = judge(row, asked);
      if (judged.fate == Fate::accepted || judged.fate == Fate::clamped) {
        const auto allowed = points.may_write(row.point, judged.accepted);
        if (!allowed) judged = {Fate::refused, 0.0, allowed.error()};
      }
      if (judged.fate == Fate::refused && !refusal) refusal = judged.refusal;
      // An enumeration knows no number of ours for what was carried: then the carried one is told.
      const double told = std::isnan(asked) ? decode(carried, row.layout) : asked;
      wanted.push_back({&row, {row.point, told, judged.fate}, judged.accepted});
    }
  }

  for (auto& one : wanted) {
    if (refusal) one.what.fate = Fate::refused;  // all or nothing
    points.asked(one.what);
    if (one.what.fate == Fate::accepted || one.what.fate == Fate::clamped)
      points.write(one.row->point, one.accepted);
  }
  if (refusal) return Failure{*refusal};
  return Done{};
}

Result<Done, Refusal> RegisterTable::write_registers(std::uint16_t first,
                                                     const std::vector<std::uint16_t>& values,
                                                     PointAccess& points) const {
  return write(Table::holding_registers, first, values, points);
}

Result<Done, Refusal> RegisterTable::write_bits(std::uint16_t first, const std::vector<bool>& values,
                                                PointAccess& points) const {
  std::vector<std::uint16_t> words(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) words[i] = values[i] ? 1 : 0;
  return write(Table::coils, first, words, points);
}

}  // namespace emberline::registers

// How one row carries its value: renumbered words and flags, bits in registers.
#include <cassert>
#include <cmath>
#include <limits>

#include "sim/registers/register_table.hpp"

namespace emberline::registers {
namespace {

/// A bit in a register is carried as if the register were a number. A coil is none: it has no bytes to swap.
Layout whole_register(const Row& row) {
  const auto order = modbus::carries_bits(row.table) ? ByteOrder::high_first : row.layout.byte_order;
  return {.type = Type::u16, .scale = 1.0, .byte_order = order};
}

/// The value as a set of bits; none for what is no such set.
std::uint32_t bits_of(double value) {
  const bool is_set = value >= 0.0 && value <= 4294967295.0;
  return is_set ? static_cast<std::uint32_t>(value) : 0u;
}

bool bit_is_on(const Row& row, double value) {
  if (row.flag) return ((bits_of(value) >> static_cast<unsigned>(*row.flag)) & 1u) != 0;
  return value != 0.0;
}

Words encode_bit(const Row& row, double value) {
  if (std::isnan(value)) {
    auto words = encode(0.0, whole_register(row));
    words.saturated = true;
    return words;
  }
  const bool on = bit_is_on(row, value);
  const auto position = modbus::carries_bits(row.table) ? 0u : static_cast<unsigned>(row.bit_position);
  return encode(on ? static_cast<double>(1u << position) : 0.0, whole_register(row));
}

double decode_bit(const Row& row, std::span<const std::uint16_t> words) {
  const auto bits = bits_of(decode(words, whole_register(row)));
  const auto position = modbus::carries_bits(row.table) ? 0u : static_cast<unsigned>(row.bit_position);
  const bool on = ((bits >> position) & 1u) != 0;
  if (row.flag) return on ? static_cast<double>(1u << static_cast<unsigned>(*row.flag)) : 0.0;
  return on ? 1.0 : 0.0;
}

/// Not by way of a double: that has no room for all the bits of a u64.
std::uint64_t flags_out(const Row& row, double value) {
  const auto bits = bits_of(value);
  std::uint64_t carried = 0;
  for (const auto& [ours, theirs] : row.flags)
    if (((bits >> static_cast<unsigned>(ours)) & 1u) != 0)
      carried |= std::uint64_t{1} << static_cast<unsigned>(theirs);
  return carried;
}

double flags_in(const Row& row, std::uint64_t carried) {
  std::uint32_t ours_set = 0;
  for (const auto& [ours, theirs] : row.flags)
    if (((carried >> static_cast<unsigned>(theirs)) & 1u) != 0) ours_set |= 1u << static_cast<unsigned>(ours);
  return static_cast<double>(ours_set);
}

double number_out(const Row& row, double value) {
  if (!std::isfinite(value)) return value;
  const auto found = row.values.find(static_cast<int>(std::lround(value)));
  return found == row.values.end() ? value : found->second;
}

/// Our number for the one carried; NaN if no word of the point is carried so.
double number_in(const Row& row, double carried) {
  for (const auto& [word, ours] : point_info(row.point).values) {
    const auto found = row.values.find(ours);
    if (carried == (found == row.values.end() ? ours : found->second)) return ours;
  }
  return std::numeric_limits<double>::quiet_NaN();
}

}  // namespace

Words encode_row(const Row& row, double value) {
  if (row.layout.type == Type::bit) return encode_bit(row, value);
  if (!row.flags.empty()) return encode_flags(flags_out(row, value), row.layout);
  if (!row.values.empty()) return encode(number_out(row, value), row.layout);
  return encode(value, row.layout);
}

double decode_row(const Row& row, std::span<const std::uint16_t> words) {
  if (row.layout.type == Type::bit) return decode_bit(row, words);
  if (!row.flags.empty()) return flags_in(row, decode_flags(words, row.layout));
  const double value = decode(words, row.layout);
  if (carries_point(row) && !point_info(row.point).values.empty()) return number_in(row, value);
  return value;
}

std::uint16_t own_bits(const Row& row) {
  if (row.layout.type == Type::bit)
    return static_cast<std::uint16_t>(1u << static_cast<unsigned>(row.bit_position));
  return row.layout.type == Type::bits ? row.layout.mask : std::uint16_t{0xFFFF};
}

bool shares_register(const Row& row) {
  const bool of_register = !modbus::carries_bits(row.table);
  return of_register && (row.layout.type == Type::bit || row.layout.type == Type::bits);
}

}  // namespace emberline::registers

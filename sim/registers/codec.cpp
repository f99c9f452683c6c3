#include "sim/registers/codec.hpp"

#include <bit>
#include <cassert>
#include <cmath>
#include <limits>

namespace emberline::registers {
namespace {

std::uint16_t swapped(std::uint16_t word) {
  return static_cast<std::uint16_t>((static_cast<unsigned>(word) >> 8u) |
                                    ((static_cast<unsigned>(word) & 0xFFu) << 8u));
}

std::uint16_t in_byte_order(std::uint16_t word, ByteOrder order) {
  return order == ByteOrder::high_first ? word : swapped(word);
}

Words laid_out(std::uint32_t raw, const Layout& layout, bool saturated) {
  Words words;
  words.used = register_count(layout.type);
  words.saturated = saturated;
  const auto low = in_byte_order(static_cast<std::uint16_t>(raw & 0xFFFFu), layout.byte_order);
  const auto high = in_byte_order(static_cast<std::uint16_t>(raw >> 16u), layout.byte_order);
  if (words.used == 1)
    words.words = {low, 0};
  else if (layout.word_order == WordOrder::high_first)
    words.words = {high, low};
  else
    words.words = {low, high};
  return words;
}

/// Half away from zero. Decimal halves are seldom exact in binary (1.005 / 0.01 gives 100.49999999999999),
/// so a count within four roundings of a half is taken for the half.
double rounded(double count) {
  constexpr double kRoundings = 4 * std::numeric_limits<double>::epsilon();
  return std::round(count * (1.0 + kRoundings));
}

Words encode_float(double count, const Layout& layout) {
  if (std::isnan(count)) {
    constexpr std::uint32_t kQuietNan = 0x7FC00000u;  // IEEE 754
    return laid_out(kQuietNan, layout, false);
  }
  const double limited = std::fmin(std::fmax(count, lowest(Type::f32)), highest(Type::f32));
  const float carried = static_cast<float>(limited + 0.0);  // + 0.0 makes a minus zero plain
  return laid_out(std::bit_cast<std::uint32_t>(carried), layout, limited != count);
}

}  // namespace

std::string_view to_word(Type type) {
  switch (type) {
    case Type::bit:
      return "bit";
    case Type::u16:
      return "u16";
    case Type::s16:
      return "s16";
    case Type::u32:
      return "u32";
    case Type::s32:
      return "s32";
    case Type::f32:
      return "f32";
  }
  return "bit";
}

int register_count(Type type) { return type == Type::u32 || type == Type::s32 || type == Type::f32 ? 2 : 1; }

double lowest(Type type) {
  switch (type) {
    case Type::bit:
    case Type::u16:
    case Type::u32:
      return 0;
    case Type::s16:
      return std::numeric_limits<std::int16_t>::min();
    case Type::s32:
      return std::numeric_limits<std::int32_t>::min();
    case Type::f32:
      return std::numeric_limits<float>::lowest();
  }
  return 0;
}

double highest(Type type) {
  switch (type) {
    case Type::bit:
      return 1;
    case Type::u16:
      return std::numeric_limits<std::uint16_t>::max();
    case Type::s16:
      return std::numeric_limits<std::int16_t>::max();
    case Type::u32:
      return std::numeric_limits<std::uint32_t>::max();
    case Type::s32:
      return std::numeric_limits<std::int32_t>::max();
    case Type::f32:
      return std::numeric_limits<float>::max();
  }
  return 0;
}

Words encode(double value, const Layout& layout) {
  if (layout.type == Type::bit) {
    const bool saturated = std::isnan(value);
    return laid_out(!saturated && value != 0.0 ? 1u : 0u, layout, saturated);
  }
  const bool no_value = std::isnan(value);
  const double count = no_value && layout.broken ? *layout.broken : value / layout.scale;
  if (layout.type == Type::f32) return encode_float(count, layout);
  const double whole = std::isnan(count) ? std::numeric_limits<double>::infinity() : rounded(count);
  const double limited = std::fmin(std::fmax(whole, lowest(layout.type)), highest(layout.type));
  const auto raw = static_cast<std::uint32_t>(static_cast<std::int64_t>(limited));  // two's complement
  return laid_out(raw, layout, limited != whole);
}

double decode(std::span<const std::uint16_t> words, const Layout& layout) {
  assert(words.size() >= static_cast<std::size_t>(register_count(layout.type)));
  const std::uint32_t first = in_byte_order(words[0], layout.byte_order);
  const std::uint32_t second =
      register_count(layout.type) == 2 ? in_byte_order(words[1], layout.byte_order) : 0;
  const auto pair =
      layout.word_order == WordOrder::high_first ? (first << 16u) | second : (second << 16u) | first;
  switch (layout.type) {
    case Type::bit:
      return static_cast<double>(first & 1u);
    case Type::u16:
      return first * layout.scale;
    case Type::s16:
      return static_cast<std::int16_t>(first) * layout.scale;
    case Type::u32:
      return pair * layout.scale;
    case Type::s32:
      return static_cast<std::int32_t>(pair) * layout.scale;
    case Type::f32:
      return static_cast<double>(std::bit_cast<float>(pair)) * layout.scale;
  }
  return 0;
}

}  // namespace emberline::registers

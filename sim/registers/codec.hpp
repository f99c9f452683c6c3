#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "sim/base/result.hpp"

namespace emberline::registers {

/// How a value is carried: a bit, an unsigned or signed whole number of 16 or 32 bits, or an IEEE 754 single.
enum class Type : std::uint8_t { bit, u16, s16, u32, s32, f32 };
/// Which half of a 32-bit value stands at the lower address.
enum class WordOrder : std::uint8_t { high_first, low_first };
/// Order of the bytes in a register; the standard's is high_first (Application Protocol V1.1b3, 4.2),
/// low_first swaps them in every register.
enum class ByteOrder : std::uint8_t { high_first, low_first };

/// The word of a type in a register table: "u16".
[[nodiscard]] std::string_view to_word(Type type);
/// Registers a type takes: 2 for the 32-bit ones, else 1.
[[nodiscard]] int register_count(Type type);
/// Least and greatest count the type can carry (f32: the finite floats; bit: 0 and 1).
[[nodiscard]] double lowest(Type type);
[[nodiscard]] double highest(Type type);

/// How one value stands in its registers.
struct Layout {
  Type type = Type::u16;
  double scale = 1.0;  ///< internal units (SI) per count, not 0
  WordOrder word_order = WordOrder::high_first;
  ByteOrder byte_order = ByteOrder::high_first;
  /// The count carried where there is no value (NaN), as of a broken sensor; nothing: the highest of the
  /// type, of f32 a quiet NaN.
  std::optional<double> broken = std::nullopt;
};

/// Registers of one value; `used` of `words` hold, in the order of their addresses.
struct Words {
  std::array<std::uint16_t, 2> words{};
  int used = 1;
  bool saturated = false;  ///< the value did not fit and stands at the end of the type's range
};

/// Carries `value` (SI): value / scale, rounded half away from zero for integers, saturating.
/// NaN is carried as layout.broken; where that says nothing, f32 carries a quiet NaN and an integer its
/// highest count, which saturates; of a bit 0, which saturates.
[[nodiscard]] Words encode(double value, const Layout& layout);
/// The value (SI) that stands in the registers; NaN and infinities come through from f32.
[[nodiscard]] double decode(std::span<const std::uint16_t> words, const Layout& layout);

}  // namespace emberline::registers

#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/result.hpp"

namespace emberline::registers {

/// How a value is carried: one bit; some bits of a register as an unsigned number (Row::mask says which); an
/// unsigned or signed whole number of 16, 32 or 64 bits; an IEEE 754 single; or characters, two a register.
enum class Type : std::uint8_t { bit, bits, u16, s16, u32, s32, u64, f32, text };
/// How the digits of a whole number are carried: two's complement; the sign as the highest bit with the
/// magnitude below it (s16 and s32); or one decimal digit every four bits (u16, u32 and u64, never negative).
enum class Coding : std::uint8_t { binary, sign_magnitude, bcd };
/// Which end of a value of several registers stands at the lower address; text is always high_first.
enum class WordOrder : std::uint8_t { high_first, low_first };
/// Order of the bytes in a register; the standard's is high_first (Application Protocol V1.1b3, 4.2),
/// low_first swaps them in every register.
enum class ByteOrder : std::uint8_t { high_first, low_first };

/// The word of a type in a register table: "u16".
[[nodiscard]] std::string_view to_word(Type type);
/// The word of a coding in a register table: "bcd".
[[nodiscard]] std::string_view to_word(Coding coding);

/// How one value stands in its registers.
struct Layout {
  Type type = Type::u16;
  double scale = 1.0;  ///< internal units (SI) per count, not 0
  WordOrder word_order = WordOrder::high_first;
  ByteOrder byte_order = ByteOrder::high_first;
  Coding coding = Coding::binary;
  int text_registers = 0;  ///< Type::text: how many registers it fills, two characters each
  /// Type::bits: which bits of the register carry the value, without a gap; 0xFFFF: all of them.
  std::uint16_t mask = 0xFFFF;
  /// The count carried where there is no value (NaN), as of a broken sensor; nothing: the highest of the
  /// type, of f32 a quiet NaN.
  std::optional<double> broken = std::nullopt;
};

/// Registers a value takes: 4 for u64, 2 for the 32-bit types, what it says for text, else 1.
[[nodiscard]] int register_count(const Layout& layout);
/// Least and greatest count the layout can carry (f32: the finite floats; bit: 0 and 1; bits: what the mask
/// holds; bcd: all nines). u64 goes to 2^53, the last whole number from which on a double leaves some out.
[[nodiscard]] double lowest(const Layout& layout);
[[nodiscard]] double highest(const Layout& layout);

/// Registers of one value; `used` of `words` hold, in the order of their addresses.
struct Words {
  std::array<std::uint16_t, 4> words{};
  int used = 1;
  bool saturated = false;  ///< the value did not fit and stands at the end of the type's range
};

/// Carries `value` (SI): value / scale, rounded half away from zero for integers, saturating.
/// NaN is carried as layout.broken; where that says nothing, f32 carries a quiet NaN and an integer its
/// highest count, which saturates; of a bit 0, which saturates.
[[nodiscard]] Words encode(double value, const Layout& layout);
/// The value (SI) that stands in the registers; NaN and infinities come through from f32, and a nibble that
/// is no decimal digit makes BCD a NaN. Not for text.
[[nodiscard]] double decode(std::span<const std::uint16_t> words, const Layout& layout);

/// Single bits as registers carry them: no scale, no coding; of Type::bits the lowest moves to the lowest bit
/// of the mask, and what does not fit is cut off. Not for f32 and text.
[[nodiscard]] Words encode_flags(std::uint64_t flags, const Layout& layout);
/// The other way round.
[[nodiscard]] std::uint64_t decode_flags(std::span<const std::uint16_t> words, const Layout& layout);

/// Characters as registers: two each, the first in the high byte (low byte with ByteOrder::low_first), cut at
/// the end, filled up with zero bytes.
[[nodiscard]] std::vector<std::uint16_t> encode_text(std::string_view text, const Layout& layout);
/// The characters up to the first zero byte, without blanks at the end.
[[nodiscard]] std::string decode_text(std::span<const std::uint16_t> words, const Layout& layout);
/// The same to be shown: whatever is no printable ASCII character, as a foreign device may send it, is a '?'.
[[nodiscard]] std::string shown_text(std::span<const std::uint16_t> words, const Layout& layout);

}  // namespace emberline::registers

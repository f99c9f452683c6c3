#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace emberline::io {

// What reading single cells of somebody else's table is made of.

inline constexpr std::string_view kDigits = "0123456789";
[[nodiscard]] constexpr bool is_digit(char c) { return c >= '0' && c <= '9'; }
/// In small letters.
[[nodiscard]] std::string lower(std::string_view text);
/// Signs beyond ASCII as what they stand for: dashes, blanks, the signs for degrees, ohm, micro and times.
[[nodiscard]] std::string plain(std::string_view text);
/// Without any of these characters.
[[nodiscard]] std::string without(std::string text, std::string_view characters);
/// Without the brackets around it.
[[nodiscard]] std::string_view bracketless(std::string_view text);
/// A number at the front, "0.1", "0,1" or "1e-3", and what is behind it; nothing for one that could be two:
/// "1,000".
[[nodiscard]] std::optional<std::pair<double, std::string_view>> leading_number(std::string_view text);
/// Digits and nothing else.
[[nodiscard]] std::optional<std::uint32_t> number_in(std::string_view digits, int base);

}  // namespace emberline::io

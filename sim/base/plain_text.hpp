#pragma once

#include <cstddef>
#include <string>

namespace emberline {

/// True for a control character of ASCII (RFC 20, 4.1): the first 32 and DEL.
[[nodiscard]] constexpr bool is_control(char c) { return static_cast<unsigned char>(c) < 0x20U || c == 0x7F; }

/// A text from outside that is to be shown: nothing in it steers a terminal. Blanks stand for control
/// characters but the line feed: those of ASCII, and C1 in UTF-8 (U+0080 to U+009F; U+009B begins commands).
[[nodiscard]] std::string plain_lines(std::string text);

/// The same as one line: a blank for each line feed, too.
[[nodiscard]] std::string one_line(std::string text);

/// The same of at most `most` bytes, cut between two characters of UTF-8; "..." stands where it is cut.
[[nodiscard]] std::string one_line(std::string text, std::size_t most);

}  // namespace emberline

#pragma once

#include <cstddef>
#include <optional>
#include <string_view>

namespace emberline::io {

/// The parser takes the end of a file for the end of a quoted text, so quotes are checked on the text itself.

/// Offset of the quote that closes the one at `open` (single or double), or nothing.
[[nodiscard]] std::optional<std::size_t> closing_quote(std::string_view text, std::size_t open);

/// For a file that did not parse: the first opening quote that is not closed on its own line, which is the
/// likely cause of what went wrong later. Only quotes that begin a value or a key count.
[[nodiscard]] std::optional<std::size_t> quote_left_open(std::string_view text);

}  // namespace emberline::io

#pragma once

#include <cstddef>
#include <optional>
#include <string_view>

namespace emberline {

/// Offset of the first byte that is not UTF-8 text (RFC 3629, section 4: no overlong forms, no surrogates,
/// nothing above U+10FFFF); nothing if all is well.
[[nodiscard]] std::optional<std::size_t> first_not_utf8(std::string_view text);

/// The same, and a zero byte, which is in no text, counts as one that is none.
[[nodiscard]] std::optional<std::size_t> first_not_text(std::string_view bytes);

}  // namespace emberline

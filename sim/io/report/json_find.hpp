#pragma once

#include <optional>
#include <string_view>

#include <boost/json/value.hpp>

namespace emberline::io {

// For a short text from outside of which one or two values are wanted, and of which all else is "something
// else". Whoever has to say what is wrong with a document uses JsonCursor.

/// The document that a text is; null if it is none.
[[nodiscard]] boost::json::value parse_json(std::string_view text);
/// The member of an object under a key; a null pointer if there is none, or `value` is null or no object.
[[nodiscard]] const boost::json::value* find_member(const boost::json::value* value, std::string_view key);
/// What a text says; nothing if `value` is null or no text. It lives as long as the value.
[[nodiscard]] std::optional<std::string_view> find_text(const boost::json::value* value);

}  // namespace emberline::io

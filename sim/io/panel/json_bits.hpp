#pragma once

#include <string>
#include <string_view>

#include "sim/io/panel/site.hpp"
#include "sim/io/report/json_text.hpp"

namespace emberline::io {

/// A measured value without the digits nobody reads: seven significant ones.
[[nodiscard]] double tidy(double value);
/// An answer that says why there is none.
[[nodiscard]] PanelAnswer refused(int status, std::string_view error);
/// "name":[...] of measured values.
template <class Values>
void put_numbers(JsonText& json, std::string_view key, const Values& values) {
  json.key(key).array();
  for (const double value : values) json.number(tidy(value));
  json.end_array();
}
/// "name":["...","..."]
template <class Texts>
void put_texts(JsonText& json, std::string_view key, const Texts& texts) {
  json.key(key).array();
  for (const auto& text : texts) json.text(text);
  json.end_array();
}
/// "name":"..." or "name":null when the text is empty.
void put_text_or_null(JsonText& json, std::string_view key, std::string_view text);

}  // namespace emberline::io

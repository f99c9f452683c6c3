#include "sim/io/report/json_text.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <limits>

#include "sim/base/quantity.hpp"

namespace emberline::io {
namespace {

void append_escaped(std::string& text, char c) {
  constexpr std::string_view kDigits = "0123456789abcdef";
  const auto byte = static_cast<unsigned char>(c);
  if (c == '"' || c == '\\') {
    text += '\\';
    text += c;
  } else if (c == '\n') {
    text += "\\n";
  } else if (byte < 0x20U) {
    text += "\\u00";
    text += kDigits[byte / 16U];
    text += kDigits[byte % 16U];
  } else {
    text += c;
  }
}

}  // namespace

void JsonText::before_value() {
  if (comma_) text_ += ',';
  if (line_) text_ += '\n';
  comma_ = true;
  line_ = false;
}

JsonText& JsonText::object() {
  before_value();
  text_ += '{';
  comma_ = false;
  return *this;
}

JsonText& JsonText::end_object() {
  text_ += '}';
  comma_ = true;
  return *this;
}

JsonText& JsonText::array() {
  before_value();
  text_ += '[';
  comma_ = false;
  return *this;
}

JsonText& JsonText::end_array() {
  text_ += ']';
  comma_ = true;
  return *this;
}

JsonText& JsonText::key(std::string_view name) {
  text(name);
  text_ += ':';
  comma_ = false;
  return *this;
}

JsonText& JsonText::line() {
  line_ = true;
  return *this;
}

JsonText& JsonText::text(std::string_view value) {
  before_value();
  text_ += '"';
  for (const char c : value) append_escaped(text_, c);
  text_ += '"';
  return *this;
}

std::string json_number(double value) {
  if (value == 0.0) return "0";  // not -0
  std::array<char, 32> digits{};
  const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), value,
                                 std::chars_format::general, std::numeric_limits<double>::digits10);
  return {digits.data(), end.ptr};
}

JsonText& JsonText::number(double value) { return std::isfinite(value) ? plain(json_number(value)) : null(); }

JsonText& JsonText::time(Duration duration) { return plain(format_number(to_seconds(duration))); }

JsonText& JsonText::plain(std::string_view value) {
  before_value();
  text_ += value;
  return *this;
}

}  // namespace emberline::io

#include "sim/base/csv_field.hpp"

namespace emberline {

std::string csv_field(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

std::string csv_fields(std::span<const std::string> texts) {
  std::string line;
  for (std::size_t i = 0; i < texts.size(); ++i) line += (i == 0 ? "" : ",") + csv_field(texts[i]);
  return line;
}

}  // namespace emberline

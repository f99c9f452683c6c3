#include "sim/io/panel/json_bits.hpp"

#include <cmath>

#include "sim/io/panel/http_text.hpp"

namespace emberline::io {

double tidy(double value) {
  constexpr double kNothing = 1e-12;
  constexpr double kWhole = 1e6;
  const double size = std::abs(value);
  if (!std::isfinite(value)) return value;
  if (size < kNothing) return 0.0;
  if (size >= kWhole) return std::round(value);
  const double places = std::pow(10.0, 6.0 - std::floor(std::log10(size)));
  return std::round(value * places) / places;
}

PanelAnswer refused(int status, std::string_view error) {
  PanelAnswer answer;
  answer.status = status;
  answer.body = error_json(error);
  return answer;
}

void put_text_or_null(JsonText& json, std::string_view key, std::string_view text) {
  json.key(key);
  if (text.empty())
    json.null();
  else
    json.text(text);
}

}  // namespace emberline::io

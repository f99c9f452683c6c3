#include "sim/base/duration_text.hpp"

#include "sim/base/quantity.hpp"

namespace emberline {

std::string format_duration(Duration duration) {
  constexpr std::int64_t kStillSeconds_ms = 120'000;
  const std::int64_t ms = (duration.count() + (duration.count() < 0 ? -500'000 : 500'000)) / 1'000'000;
  if (ms < kStillSeconds_ms) return format_number(static_cast<double>(ms) / 1000.0) + " s";
  const auto two_digits = [](std::int64_t number) {
    return (number < 10 ? "0" : "") + std::to_string(number);
  };
  const std::int64_t hours = ms / 3'600'000;
  const std::int64_t minutes = ms / 60'000 % 60;
  std::string text = hours > 0 ? std::to_string(hours) + " h " + two_digits(minutes) + " min"
                               : std::to_string(minutes) + " min";
  if (ms % 60'000 != 0) {
    text += " " + two_digits(ms / 1000 % 60);
    if (ms % 1000 != 0) text += "." + std::string(ms % 1000 < 100 ? "0" : "") + two_digits(ms % 1000);
    text += " s";
  }
  return text;
}

}  // namespace emberline

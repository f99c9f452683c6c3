#include "sim/unit/words.hpp"

#include "sim/base/quantity.hpp"

namespace emberline::unit {

std::string_view to_word(ResetBy by) {
  switch (by) {
    case ResetBy::enable_cycle:
      return "enable-cycle";
    case ResetBy::reset_terminal:
      return "reset-terminal";
    case ResetBy::reset_register:
      return "reset-register";
  }
  return "";
}

std::string any_of_words(const std::vector<ResetBy>& ways) {
  std::string text;
  for (const ResetBy by : ways) {
    if (!text.empty()) text += " or ";
    text += to_word(by);
  }
  return text;
}

std::string percent_text(double fraction) { return format_quantity(fraction, Dimension::ratio); }

std::string counted(int count, std::string_view noun) {
  return std::to_string(count) + " " + std::string(noun) + (count == 1 ? "" : "s");
}

}  // namespace emberline::unit

#include "sim/base/plain_text.hpp"

#include <algorithm>
#include <utility>

namespace emberline {
namespace {

bool is_inside_character(char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; }

}  // namespace

std::string plain_lines(std::string text) {
  std::replace_if(
      text.begin(), text.end(), [](char c) { return is_control(c) && c != '\n'; }, ' ');
  for (std::size_t i = 0; i + 1 < text.size(); ++i) {
    const auto next = static_cast<unsigned char>(text[i + 1]);
    if (text[i] == '\xC2' && next >= 0x80U && next < 0xA0U) text.replace(i, 2, "  ");
  }
  return text;
}

std::string one_line(std::string text) {
  text = plain_lines(std::move(text));
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text;
}

std::string one_line(std::string text, std::size_t most) {
  text = one_line(std::move(text));
  if (text.size() <= most) return text;
  while (most > 0 && is_inside_character(text[most])) --most;
  text.resize(most);
  return text + "...";
}

}  // namespace emberline

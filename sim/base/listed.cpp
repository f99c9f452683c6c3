#include "sim/base/listed.hpp"

namespace emberline {

std::string listed(const std::vector<std::string>& words) {
  std::string text;
  for (const auto& word : words) {
    if (!text.empty()) text += ", ";
    text += word;
  }
  return text.empty() ? "none" : text;
}

}  // namespace emberline

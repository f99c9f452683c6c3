#include "sim/io/files/words.hpp"

#include "sim/base/diagnostic.hpp"

namespace emberline::io {
namespace {

/// No word of ours is longer; a longer one of the user's needs no help, only a bounded search.
constexpr std::size_t kLongestWord = 80;

}  // namespace

std::string_view nearest_word(std::string_view word, const std::vector<std::string>& known) {
  return nearest(word.substr(0, kLongestWord), known);
}

std::string unknown(std::string_view kind, std::string_view word, const std::vector<std::string>& known) {
  const std::string text =
      "unknown " + std::string(kind) + " '" + std::string(word.substr(0, kLongestWord)) + "'";
  const auto near = nearest_word(word, known);
  if (!near.empty()) return text + ", did you mean '" + std::string(near) + "'?";
  return text + "; known: " + listed(known);
}

std::string not_there_yet(std::string_view word, const std::vector<std::string>& known) {
  return "'" + std::string(word) + "' is not there yet; known now: " + listed(known);
}

}  // namespace emberline::io

#include "sim/io/files/words.hpp"

#include "sim/base/diagnostic.hpp"

namespace emberline::io {
namespace {

/// No word of ours is longer; a longer one of the user's needs no help, only a bounded search.
constexpr std::size_t kLongestWord = 80;

template <class Flag, std::size_t N>
std::vector<std::string> words_of(const std::array<Flag, N>& flags) {
  std::vector<std::string> words;
  words.reserve(flags.size());
  for (const auto flag : flags) words.emplace_back(registers::to_word(flag));
  return words;
}

}  // namespace

std::vector<std::string> raised_words(std::span<const registers::Word> words) {
  if (words.data() == registers::warning_words().data()) return words_of(kRaisedWarnings);
  if (words.data() == registers::trip_words().data()) return words_of(kRaisedTrips);
  std::vector<std::string> all;
  for (const auto& word : words) all.emplace_back(word.first);
  return all;
}

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

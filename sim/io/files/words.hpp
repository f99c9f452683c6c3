#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/base/listed.hpp"

namespace emberline::io {

/// The word of `known` that `word` was most likely meant to be, or nothing. Bounded, however long the word
/// is.
[[nodiscard]] std::string_view nearest_word(std::string_view word, const std::vector<std::string>& known);

/// "unknown KIND 'WORD', did you mean 'NEAR'?", or, when nothing is near, "unknown KIND 'WORD'; known: ...".
[[nodiscard]] std::string unknown(std::string_view kind, std::string_view word,
                                  const std::vector<std::string>& known);

/// "'WORD' is not there yet; known now: ...", for what these files will be able to say one day.
[[nodiscard]] std::string not_there_yet(std::string_view word, const std::vector<std::string>& known);

}  // namespace emberline::io

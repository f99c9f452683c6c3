#pragma once

#include <algorithm>
#include <span>
#include <string>
#include <vector>

#include "sim/base/listed.hpp"
#include "sim/cli/output.hpp"

namespace emberline::cli {

/// The format with this word after --as, by its member `word`; null, after a complaint that names all words,
/// if there is none.
template <class Format>
[[nodiscard]] const Format* format_of(std::span<const Format> formats, const std::string& word) {
  const auto found = std::find_if(formats.begin(), formats.end(),
                                  [&word](const Format& format) { return format.word == word; });
  if (found != formats.end()) return &*found;
  std::vector<std::string> words;
  for (const auto& format : formats) words.emplace_back(format.word);
  complain("--as " + word + ": expected one of " + listed(words));
  return nullptr;
}

}  // namespace emberline::cli

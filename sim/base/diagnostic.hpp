#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace emberline {

/// Where in a file something stands. Lines and columns count from 1; 0 means the file as a whole.
struct Place {
  std::string file;
  int line = 0;
  int column = 0;
};

/// One thing wrong with what a user gave us: where, what, what was expected.
struct Diagnostic {
  Place place;
  std::string message;
};

/// "file:line:column: message", the form editors jump to.
[[nodiscard]] std::string to_text(const Diagnostic& diagnostic);

/// The member of `known` that `word` was most likely meant to be, or an empty view when none is near.
/// Capital letters are the same as small ones.
[[nodiscard]] std::string_view nearest(std::string_view word, const std::vector<std::string>& known);

}  // namespace emberline

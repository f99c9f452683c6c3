#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/io/files/node.hpp"

namespace emberline::io {

/// The text of a file and where its lines begin, so that places can be told in characters.
class SourceText {
 public:
  SourceText(std::string path, std::string text);

  [[nodiscard]] const std::string& text() const { return text_; }
  [[nodiscard]] Place whole_file() const { return {path_, 0, 0}; }
  /// The place of a byte offset; beyond the end: the end of the last line.
  [[nodiscard]] Place place(std::size_t offset) const;
  /// The offset of byte `column` of line `line`, both from 0; held inside the text.
  [[nodiscard]] std::size_t offset(int line, int column) const;

 private:
  std::string path_;
  std::string text_;
  std::vector<std::size_t> line_starts_;
};

/// Why there is no file to open, or one of more than `largest` bytes, for which `too_large` are the words;
/// empty if it can be read.
[[nodiscard]] std::string why_not_a_file(const std::string& path, std::size_t largest,
                                         std::string_view too_large);
/// Reads a file whole, or complains in one line why it cannot be used.
[[nodiscard]] std::optional<SourceText> read_source(const std::string& path, Problems& problems);

}  // namespace emberline::io

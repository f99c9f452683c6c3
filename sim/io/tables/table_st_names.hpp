#pragma once

#include <set>
#include <string>
#include <string_view>

namespace emberline::io {

/// Identifiers of Structured Text that are in use. Case counts for nothing (IEC 61131-3:2013, 6.1.2).
class StNames {
 public:
  /// An identifier made of `wanted`, in capitals, that is no keyword, no name of the standard's own types,
  /// functions and function blocks, and not in use; in use from now on. One that is in use gets `else_with`
  /// behind it, then a number.
  std::string take(std::string_view wanted, std::string_view else_with = {});

 private:
  bool add(const std::string& name) { return taken_.insert(name).second; }
  std::set<std::string, std::less<>> taken_;
};

/// Capitals, digits and single underscores, beginning with a letter: what an identifier may be everywhere
/// (IEC 61131-3:2013, 6.1.2; ed. 2 forbade underscores in a row and at the end). Never empty.
[[nodiscard]] std::string st_identifier(std::string_view text);
/// Whole words of a title, at most so long if the first is.
[[nodiscard]] std::string st_short_identifier(std::string_view title, std::size_t longest);
/// True for keywords and for names that the standard gives to types, functions and function blocks.
[[nodiscard]] bool is_st_word(std::string_view capitals);

/// Text inside (* and *): without what would end or nest a comment, on one line.
[[nodiscard]] std::string st_comment(std::string_view text);
/// A program whose lines have at most 120 characters, as far as it has blanks to break them at: those mean
/// nothing in the language but in a literal of characters, and a line that is short enough stays as it is.
[[nodiscard]] std::string st_narrow(std::string_view program);
/// "LREAL#0.1": the shortest that reads back to the same double.
[[nodiscard]] std::string st_lreal(double value);
/// "16#0030", at least so many digits.
[[nodiscard]] std::string st_hex(unsigned long long value, int digits);

}  // namespace emberline::io

#pragma once

#include <span>
#include <string_view>

namespace emberline::io {

/// A helper of table_st_helpers.hpp.
struct StHelper {
  std::string_view name;
  std::string_view uses;  ///< other helpers, with blanks between
  std::string_view text;
};

/// Those for whole numbers and their codings, and those for floats and characters; each stands after those it
/// uses.
[[nodiscard]] std::span<const StHelper> st_whole_number_helpers();
[[nodiscard]] std::span<const StHelper> st_float_helpers();

}  // namespace emberline::io

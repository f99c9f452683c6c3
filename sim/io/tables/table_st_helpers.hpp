#pragma once

#include <set>
#include <string>
#include <string_view>

namespace emberline::io {

/// Functions in Structured Text that the functions of the rows are made of. They use no overlaid memory and
/// no conversion whose rounding the standard leaves open, so that they give the same everywhere.
class StHelpers {
 public:
  /// The name of a helper, which is written from now on, with those it uses itself. `name` is one of those in
  /// the source; another is a mistake of the caller.
  std::string use(std::string_view name);
  /// All that are used, each after those it uses.
  [[nodiscard]] std::string text() const;

 private:
  std::set<std::string, std::less<>> used_;
};

}  // namespace emberline::io

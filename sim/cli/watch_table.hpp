#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/base/result.hpp"

namespace emberline::cli {

/// What `emberline watch` shows: a heading, then a line for each state. Made from the panel's own answers.
class WatchTable {
 public:
  /// From what GET /api/bench says of the bench. The error is one line.
  [[nodiscard]] static Result<WatchTable, std::string> of_bench(std::string_view bench_json);
  /// Two lines: the units, and what stands below them.
  [[nodiscard]] const std::string& heading() const { return heading_; }
  /// One line with its break, from what GET /api/state says. The error is one line.
  [[nodiscard]] Result<std::string, std::string> row(std::string_view state_json) const;

 private:
  struct Column {
    std::string unit;
    std::string zone;  ///< empty: it heats none
  };
  std::vector<Column> columns_;
  std::string heading_;
};

}  // namespace emberline::cli

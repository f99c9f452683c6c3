#pragma once

#include <array>
#include <optional>
#include <string>

#include "sim/cli/new_answers.hpp"

namespace CLI {  // NOLINT(readability-identifier-naming): of the library
class App;
}

namespace emberline::cli {

/// `emberline new [FOLDER]`: asks six questions, or takes flags, and writes a bench, a register table and a
/// first scenario that pass `check` and `rehearse` as they stand.
struct NewOptions {
  std::string folder = ".";
  std::array<std::optional<std::string>, kFieldCount> given;  ///< by flag, in the order of fields()
  bool yes = false;                                           ///< defaults for what no flag gives
};

/// Adds the command to the command line.
void add_new(CLI::App& app, NewOptions& options);
/// Asks, writes, and says what to do next; gives the exit status.
[[nodiscard]] int make_new(const NewOptions& options);

}  // namespace emberline::cli

#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/cli/exit_code.hpp"

namespace emberline::cli {

/// A place that something is to be written to.
struct Place {
  std::string option;  ///< that asked for it: "--junit"
  std::string path;    ///< empty: it was not asked for
  bool folder = false;
};

/// True if each is a file of its own and none of `inputs`, so that nothing is written over; complains
/// otherwise. Empty paths are none.
[[nodiscard]] bool each_by_itself(const std::vector<Place>& places, const std::vector<std::string>& inputs);

/// Looks, before anything runs, whether all of that can be written at its end: each by itself, in a folder
/// that is there. Complains and gives the exit status otherwise.
[[nodiscard]] std::optional<ExitCode> places_refused(const std::vector<Place>& places,
                                                     const std::vector<std::string>& inputs);

}  // namespace emberline::cli

#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/base/result.hpp"

namespace emberline::cli {

struct NewFile {
  std::string name;
  std::string content;
};

/// Why files could not be put into a folder.
struct FolderProblem {
  bool of_input = false;  ///< true: what was asked for cannot be had; false: the surroundings failed
  std::string message;
};

/// Which of these files are there already, one line; empty if none is.
[[nodiscard]] std::string taken_in(const std::string& folder, const std::vector<NewFile>& files);

/// Puts files into a folder, which is made if need be: all of them or none, and none over another file.
/// `examine` is given a folder where they stand already, before they appear in theirs; what it gives, if
/// anything, is a reason to leave it.
[[nodiscard]] Result<Done, FolderProblem> put_into(
    const std::string& folder, const std::vector<NewFile>& files,
    const std::function<std::string(const std::string&)>& examine);

}  // namespace emberline::cli

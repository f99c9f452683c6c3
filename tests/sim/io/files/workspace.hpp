#pragma once

#include <span>
#include <string>
#include <vector>

#include "sim/io/files/load.hpp"

namespace emberline::test {

/// A folder of its own under the build folder, emptied at the start and at the end.
class Workspace {
 public:
  Workspace();
  ~Workspace();
  Workspace(const Workspace&) = delete;
  Workspace& operator=(const Workspace&) = delete;

  /// Writes a file and returns its path.
  std::string write(const std::string& name, const std::string& text) const;
  [[nodiscard]] std::string path(const std::string& name) const;
  /// The problems as a user sees them, with this folder's path taken out.
  [[nodiscard]] std::vector<std::string> lines(const io::Problems& problems) const;
  /// What loading a file of whatever kind complains about; nothing when it loads.
  [[nodiscard]] std::vector<std::string> complaints(const std::string& name) const;

 private:
  std::string folder_;
};

/// `text` with its only occurrence of `from` replaced.
std::string replaced(const std::string& text, const std::string& from, const std::string& to);

/// One mistake in one of the sample files, and everything that has to be said about it.
struct Breakage {
  const char* what;
  const char* from;
  const char* to;
  const char* expected;        ///< lines
  const char* file = nullptr;  ///< where it is made, if not in the file that is loaded
};
/// Breaks the sample files case by case and loads `loaded`.
void check_breakages(std::span<const Breakage> cases, const std::string& loaded);

}  // namespace emberline::test

#include "sim/cli/new_folder.hpp"

#include <cerrno>
#include <cstdlib>
#include <filesystem>
#include <system_error>

#include <unistd.h>

#include "sim/base/listed.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {
namespace {

namespace fs = std::filesystem;

using Outcome = Result<Done, FolderProblem>;

Failure<FolderProblem> surroundings(std::string message) {
  return Failure{FolderProblem{false, std::move(message)}};
}

bool is_there(const fs::path& path) {
  std::error_code error;
  return fs::symlink_status(path, error).type() != fs::file_type::not_found && !error;
}

/// Folders this program made, taken away again unless all went well.
class Made {
 public:
  ~Made() {
    std::error_code ignored;
    for (auto it = paths_.rbegin(); it != paths_.rend(); ++it) fs::remove(*it, ignored);
  }
  Made() = default;
  Made(const Made&) = delete;
  Made& operator=(const Made&) = delete;

  /// Makes a folder and those above it; gives the error.
  std::error_code make(const fs::path& folder) {
    std::error_code error;
    if (fs::is_directory(folder, error)) return {};
    if (folder.has_parent_path() && folder.parent_path() != folder)
      if (const auto failed = make(folder.parent_path())) return failed;
    if (fs::create_directory(folder, error)) paths_.push_back(folder);
    return error;
  }
  void add(const fs::path& path) { paths_.push_back(path); }
  void keep() { paths_.clear(); }

 private:
  std::vector<fs::path> paths_;
};

/// A folder inside another one that is removed with all that is in it.
class Nursery {
 public:
  explicit Nursery(const fs::path& parent) : path_((parent / ".emberline-new-XXXXXX").string()) {
    if (::mkdtemp(path_.data()) == nullptr) error_ = std::error_code(errno, std::generic_category());
  }
  ~Nursery() {
    std::error_code ignored;
    if (!error_) fs::remove_all(path_, ignored);
  }
  Nursery(const Nursery&) = delete;
  Nursery& operator=(const Nursery&) = delete;
  [[nodiscard]] const std::error_code& error() const { return error_; }
  [[nodiscard]] fs::path file(const std::string& name) const { return fs::path(path_) / name; }
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  std::string path_;
  std::error_code error_;
};

/// Never over a file that is there; where a file system knows no second names, after having looked.
std::error_code place(const fs::path& from, const fs::path& to) {
  std::error_code error;
  fs::create_hard_link(from, to, error);
  if (!error || error == std::errc::file_exists) return error;
  if (is_there(to)) return std::make_error_code(std::errc::file_exists);
  fs::rename(from, to, error);
  return error;
}

}  // namespace

std::string taken_in(const std::string& folder, const std::vector<NewFile>& files) {
  std::vector<std::string> taken;
  for (const auto& file : files)
    if (const auto path = fs::path(folder) / file.name; is_there(path)) taken.push_back(path.string());
  if (taken.empty()) return {};
  return listed(taken) + (taken.size() == 1 ? " is" : " are") + " there already, and nothing is written over";
}

Result<Done, FolderProblem> put_into(const std::string& folder, const std::vector<NewFile>& files,
                                     const std::function<std::string(const std::string&)>& examine) {
  const auto where = fs::path(folder).lexically_normal();
  Made made;
  if (is_there(where) && !fs::is_directory(where))
    return Failure{FolderProblem{true, folder + ": is a file, expected a folder"}};
  if (const auto error = made.make(where))
    return surroundings(folder + ": cannot be made: " + error.message());
  {
    const Nursery nursery(where);
    if (nursery.error())
      return surroundings(folder + ": cannot be written into: " + nursery.error().message());
    for (const auto& file : files)
      if (const auto written = io::write_whole(nursery.file(file.name).string(), file.content); !written)
        return surroundings(written.error());
    if (auto problem = examine(nursery.path()); !problem.empty())
      return Failure{FolderProblem{true, std::move(problem)}};
    Made placed;  // files, in this case
    for (const auto& file : files) {
      const auto to = where / file.name;
      if (const auto error = place(nursery.file(file.name), to)) {
        if (error == std::errc::file_exists) return Failure{FolderProblem{true, taken_in(folder, {file})}};
        return surroundings(to.string() + ": cannot be written: " + error.message());
      }
      placed.add(to);
    }
    placed.keep();
  }
  made.keep();
  return Done{};
}

}  // namespace emberline::cli

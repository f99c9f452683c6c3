#include "sim/io/line/stable_link.hpp"

#include <array>
#include <cerrno>
#include <climits>
#include <cstdio>
#include <optional>

#include <sys/stat.h>
#include <unistd.h>

#include "sim/io/line/descriptor.hpp"
#include "sim/io/line/left_behind.hpp"

namespace emberline::io {
namespace {

std::optional<std::string> target_of(const std::string& link) {
  std::array<char, PATH_MAX> target{};
  const ssize_t size = ::readlink(link.c_str(), target.data(), target.size());
  return size < 0 ? std::nullopt : std::optional(std::string(target.data(), static_cast<std::size_t>(size)));
}

std::string kind_of_file(mode_t mode) {
  if (S_ISREG(mode)) {
    return "a regular file";
  }
  if (S_ISDIR(mode)) {
    return "a folder";
  }
  return S_ISSOCK(mode) ? "a socket" : "a device or pipe";
}

Failure<std::string> left_alone(const std::string& link, const std::string& what) {
  return Failure{link + " is " + what + " and is left alone; expected nothing or an old link of ours there"};
}

/// Nothing if the link at this path may be replaced.
std::optional<Failure<std::string>> in_the_way(const std::string& link, mode_t mode,
                                               const std::function<bool(const std::string&)>& in_use) {
  if (!S_ISLNK(mode)) {
    return left_alone(link, kind_of_file(mode));
  }
  struct stat there {};
  if (::stat(link.c_str(), &there) != 0) {
    if (errno == ENOENT) {
      return std::nullopt;
    }
    return left_alone(link, "a link that cannot be followed (" + system_words(errno) + ")");
  }
  const std::string target = target_of(link).value_or("");
  if (!target.starts_with("/dev/pts/")) {
    return left_alone(link, "a link to " + target);
  }
  if (in_use(target)) {
    return left_alone(link, "the line of another running bench");
  }
  return std::nullopt;
}

}  // namespace

Result<Done, std::string> make_parent_folders(const std::string& path, unsigned mode) {
  for (std::size_t slash = path.find('/', 1); slash != std::string::npos; slash = path.find('/', slash + 1)) {
    const std::string folder = path.substr(0, slash);
    struct stat there {};
    if (::stat(folder.c_str(), &there) == 0) {
      if (!S_ISDIR(there.st_mode)) {
        return Failure{folder + " is " + kind_of_file(there.st_mode) + "; expected a folder"};
      }
    } else if (::mkdir(folder.c_str(), mode) != 0 && errno != EEXIST) {
      return Failure{"cannot make the folder " + folder + ": " + system_words(errno)};
    }
  }
  return Done{};
}

Result<Done, std::string> place_link(const std::string& link, const std::string& terminal,
                                     const std::function<bool(const std::string&)>& in_use) {
  if (auto made = make_parent_folders(link, 0755); !made) {
    return made;
  }
  if (::symlink(terminal.c_str(), link.c_str()) == 0) {
    note_left_behind(link);
    return Done{};
  }
  const int why = errno;
  if (why == EEXIST && target_of(link) == terminal) {
    note_left_behind(link);
    return Done{};  // left behind by a run that had the same terminal and was killed
  }
  struct stat there {};
  if (why != EEXIST || ::lstat(link.c_str(), &there) != 0) {
    return Failure{"cannot make the link " + link + ": " + system_words(why)};
  }
  if (auto problem = in_the_way(link, there.st_mode, in_use)) {
    return std::move(*problem);
  }
  // By way of a second link and a rename, so that there is a link at every instant.
  const std::string fresh = link + "." + std::to_string(::getpid());
  if (target_of(fresh)) {
    ::unlink(fresh.c_str());  // of somebody with our number who was killed right here
  }
  if (::symlink(terminal.c_str(), fresh.c_str()) != 0) {
    return Failure{"cannot make the link " + fresh + ": " + system_words(errno)};
  }
  if (::rename(fresh.c_str(), link.c_str()) != 0) {
    const int error = errno;
    ::unlink(fresh.c_str());
    return Failure{"cannot replace the old link " + link + ": " + system_words(error)};
  }
  note_left_behind(link);
  return Done{};
}

void remove_link(const std::string& link, const std::string& terminal) {
  if (target_of(link) == terminal) {
    ::unlink(link.c_str());
  }
  forget_left_behind(link);
}

}  // namespace emberline::io

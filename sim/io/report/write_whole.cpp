#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <string>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sim/io/report/report.hpp"

namespace emberline::io {
namespace {

constexpr mode_t kMode = 0666;  // less what umask takes away

/// An open file that is closed whatever happens.
class File {
 public:
  explicit File(int descriptor) : descriptor_(descriptor) {}
  ~File() {
    if (descriptor_ >= 0) ::close(descriptor_);
  }
  File(const File&) = delete;
  File& operator=(const File&) = delete;
  [[nodiscard]] bool is_open() const { return descriptor_ >= 0; }
  [[nodiscard]] int descriptor() const { return descriptor_; }
  /// All of it, down to the disk.
  [[nodiscard]] bool fill(const std::string& content) const {
    for (std::size_t done = 0; done < content.size();) {
      const auto written = ::write(descriptor_, content.data() + done, content.size() - done);
      if (written < 0 && errno == EINTR) continue;
      if (written < 0) return false;
      done += static_cast<std::size_t>(written);
    }
    return ::fsync(descriptor_) == 0;
  }

 private:
  int descriptor_;
};

constexpr int kMostLinks = 40;  // as the kernel

std::string folder_of(const std::string& path) {
  const auto folder = std::filesystem::path(path).parent_path().string();
  return folder.empty() ? "." : folder;
}

/// Where it stands until it is whole: beside the target, so that the rename stays within one file system, and
/// under a name that nobody else uses, so that what stands there is what somebody killed has left.
std::string part_of(const std::string& path) {
  const std::filesystem::path target(path);
  return (target.parent_path() / ("." + target.filename().string() + ".emberline-part")).string();
}

/// True if nothing stands in the way, or what did is gone. Folders, links and the like are none of ours.
bool put_away(const std::string& name) {
  struct stat found {};
  if (::lstat(name.c_str(), &found) != 0) return errno == ENOENT;
  if (!S_ISREG(found.st_mode)) {
    errno = EEXIST;
    return false;
  }
  return ::unlink(name.c_str()) == 0 || errno == ENOENT;
}

/// Gives a file without a name one, in place of what somebody killed has left under it.
bool give_name(const File& file, const std::string& name) {
  const std::string nameless = "/proc/self/fd/" + std::to_string(file.descriptor());
  for (int i = 0; i < 8; ++i) {
    if (::linkat(AT_FDCWD, nameless.c_str(), AT_FDCWD, name.c_str(), AT_SYMLINK_FOLLOW) == 0) return true;
    if (errno != EEXIST || !put_away(name)) return false;
  }
  return false;
}

/// A file under a name that nobody takes for the finished one, if the other way cannot be gone.
Result<Done, int> write_named(const std::string& name, const std::string& content) {
  if (!put_away(name)) return Failure{errno};
  const File file(::open(name.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, kMode));
  if (!file.is_open()) return Failure{errno};
  if (file.fill(content)) return Done{};
  const int error = errno;
  ::unlink(name.c_str());
  return Failure{error};
}

/// Writes all of it under `name`, which is complete when it appears wherever that can be done.
Result<Done, int> write_part(const std::string& folder, const std::string& name, const std::string& content) {
  const File file(::open(folder.c_str(), O_TMPFILE | O_WRONLY | O_CLOEXEC, kMode));
  if (!file.is_open()) return write_named(name, content);
  if (!file.fill(content)) return Failure{errno};
  if (give_name(file, name)) return Done{};
  return write_named(name, content);
}

}  // namespace

std::string behind_links(const std::string& path) {
  std::filesystem::path place(path);
  std::error_code error;
  for (int i = 0; i < kMostLinks && std::filesystem::is_symlink(place, error); ++i) {
    const auto leads_to = std::filesystem::read_symlink(place, error);
    if (error) break;
    place = place.parent_path() / leads_to;  // leads_to alone, if that is absolute
  }
  return place.string();
}

std::optional<std::string> why_not_replaced(const std::string& path) {
  struct stat there {};
  if (::stat(path.c_str(), &there) != 0) {
    if (errno != ELOOP) return std::nullopt;
    return std::string("cannot be written: ") + std::strerror(errno);
  }
  if (S_ISDIR(there.st_mode)) return std::nullopt;
  if (!S_ISREG(there.st_mode)) return "is a device or pipe; expected a file, which is put in place whole";
  for (const int own : {STDOUT_FILENO, STDERR_FILENO}) {
    struct stat output {};
    if (::fstat(own, &output) == 0 && output.st_dev == there.st_dev && output.st_ino == there.st_ino)
      return "is where this program's own output goes; expected another file";
  }
  return std::nullopt;
}

Result<Done, std::string> write_whole(const std::string& named, const std::string& content) {
  if (const auto reason = why_not_replaced(named)) return Failure{named + ": " + *reason};
  const std::string path = behind_links(named);
  const std::string part = part_of(path);
  int error = 0;
  // Somebody else who writes the same file at the same time may have renamed ours for us: once more then.
  for (int i = 0; i < 8; ++i) {
    if (const auto written = write_part(folder_of(path), part, content); !written)
      return Failure{named + ": cannot be written: " + std::strerror(written.error())};
    if (std::rename(part.c_str(), path.c_str()) == 0) return Done{};
    error = errno;
    if (error != ENOENT) break;
  }
  put_away(part);
  return Failure{named + ": cannot be put in place: " + std::strerror(error)};
}

}  // namespace emberline::io

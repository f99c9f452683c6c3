#include <cerrno>
#include <cstdio>
#include <cstring>
#include <string>

#include <unistd.h>

#include "sim/io/report/report.hpp"

namespace emberline::io {
namespace {

std::string problem(const std::string& path, const char* what, int error) {
  return path + ": cannot " + what + ": " + std::strerror(error);
}

}  // namespace

Result<Done, std::string> write_whole(const std::string& path, const std::string& content) {
  // Beside the target, so that the rename stays within one file system.
  const std::string temporary = path + ".part-" + std::to_string(::getpid());
  std::FILE* file = std::fopen(temporary.c_str(), "wb");
  if (file == nullptr) return Failure{problem(path, "be written", errno)};
  const bool written = std::fwrite(content.data(), 1, content.size(), file) == content.size() &&
                       std::fflush(file) == 0 && ::fsync(::fileno(file)) == 0;
  const int write_error = errno;
  if (std::fclose(file) != 0 || !written) {
    std::remove(temporary.c_str());
    return Failure{problem(path, "be written", write_error)};
  }
  if (std::rename(temporary.c_str(), path.c_str()) != 0) {
    const int rename_error = errno;
    std::remove(temporary.c_str());
    return Failure{problem(path, "be put in place", rename_error)};
  }
  return Done{};
}

}  // namespace emberline::io

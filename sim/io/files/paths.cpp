#include "sim/io/files/paths.hpp"

#include <filesystem>
#include <system_error>

namespace emberline::io {

std::string path_beside(const std::string& file, const std::string& named) {
  namespace fs = std::filesystem;
  const fs::path joined = fs::path(file).parent_path() / named;
  const fs::path plain = joined.lexically_normal();
  // "a/../b" is shown as "b", unless a symbolic link makes these two different places.
  std::error_code error;
  const bool exists = fs::exists(joined, error);
  if (exists && !fs::equivalent(joined, plain, error)) return joined.string();
  return plain.string();
}

}  // namespace emberline::io

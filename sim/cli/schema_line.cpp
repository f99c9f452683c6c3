#include "sim/cli/schema_line.hpp"

#include <system_error>

namespace emberline::cli {

std::string schema_line(const std::filesystem::path& folder, const std::string& schema) {
  std::error_code error;
  const auto from = std::filesystem::weakly_canonical(std::filesystem::absolute(folder, error), error);
  if (error) return {};
  for (auto above = from;; above = above.parent_path()) {
    const auto file = above / "config" / "schema" / schema;
    if (std::filesystem::is_regular_file(file, error))
      return "# yaml-language-server: $schema=" + file.lexically_relative(from).string();
    if (above == above.parent_path()) return {};
  }
}

}  // namespace emberline::cli

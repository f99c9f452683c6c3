#pragma once

#include <filesystem>
#include <string>

namespace emberline::cli {

/// A comment that lets an editor complete a file of `folder`, where config/schema is in that folder or above
/// it: "# yaml-language-server: $schema=../config/schema/bench.json". Empty where there is none.
[[nodiscard]] std::string schema_line(const std::filesystem::path& folder, const std::string& schema);

}  // namespace emberline::cli

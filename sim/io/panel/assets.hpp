#pragma once

#include <span>
#include <string_view>

namespace emberline::io {

/// A file that was compiled into the program.
struct Asset {
  std::string_view path;  ///< by which it is asked for: "/story.js"
  std::string_view type;  ///< media type
  std::string_view content;
};

/// The page's files, and the description of the interface at "/api/openapi.json".
[[nodiscard]] std::span<const Asset> all_assets();

/// The file at exactly this path; "/" and "/class" are the page itself. Null if there is none: no path leads
/// anywhere else.
[[nodiscard]] const Asset* find_asset(std::string_view path);

}  // namespace emberline::io

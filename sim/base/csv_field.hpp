#pragma once

#include <span>
#include <string>
#include <string_view>

namespace emberline {

/// A field of a CSV file: in quotes if it has commas, quotes or line breaks, and quotes in it twice (RFC
/// 4180, section 2).
[[nodiscard]] std::string csv_field(std::string_view text);
/// Fields with commas between them, without the end of the line.
[[nodiscard]] std::string csv_fields(std::span<const std::string> texts);

}  // namespace emberline

#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/io/files/table_mapping_file.hpp"

namespace emberline::io {

/// What a header says, and of which numbers its cells are.
struct HeaderWords {
  std::vector<std::string> words;  ///< in small letters, without "hex" and "dec"
  bool hexadecimal = false;        ///< "Address (hex)"
  bool decimal = false;            ///< "Address (dec)"; one that says both says neither

  /// As loose() makes it of the words.
  [[nodiscard]] std::string text() const;
};
[[nodiscard]] HeaderWords header_words(std::string_view header);

/// The column of addresses, of those that are not taken. One that says address or register comes before one
/// of mere numbers, which may count the rows. The error names columns that could as well be meant.
[[nodiscard]] Result<std::optional<std::size_t>, std::string> find_address_column(
    const std::vector<std::string>& header, const TableMapping& mapping, const std::vector<bool>& taken);

}  // namespace emberline::io

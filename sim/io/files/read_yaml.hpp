#pragma once

#include <optional>
#include <string>

#include "sim/io/files/node.hpp"

namespace emberline::io {

/// Reads a YAML file into a tree whose places carry `path` as given. Complains about files that are missing,
/// no plain files, empty, over 1 MB or not UTF-8; about text that does not parse; and about what the parser
/// would let pass: doubles of a key, anchors, aliases, tags, control characters, second documents and quotes
/// left open. Nothing
/// is returned when there is no mapping to go on with.
[[nodiscard]] std::optional<Node> read_yaml(const std::string& path, Problems& problems);

}  // namespace emberline::io

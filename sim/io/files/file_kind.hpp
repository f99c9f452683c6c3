#pragma once

#include <optional>
#include <string>

#include "sim/io/files/node.hpp"

namespace emberline::io {

/// The kind a file declares itself to be: scenario, register_table, table_mapping, poll_plan, else bench (a
/// scenario and a poll plan have `bench:` too).
[[nodiscard]] std::optional<FileKind> declared_kind(const Node& root);

/// Reads a file that has to be of one kind, and of a format that is known here; another kind, or a newer
/// format, is one complaint, not dozens about its keys. The key `format` has been read then: loaders only let
/// it pass.
[[nodiscard]] std::optional<Node> read_kind(const std::string& path, FileKind kind, Problems& problems);

}  // namespace emberline::io

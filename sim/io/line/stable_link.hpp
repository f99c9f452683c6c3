#pragma once

#include <functional>
#include <string>

#include "sim/base/result.hpp"

namespace emberline::io {

/// Makes the symbolic link `link` lead to `terminal`; missing parent folders are made (0755). A stale link is
/// replaced: one that leads nowhere, or to a terminal under /dev/pts that `in_use` says no running bench has
/// there. One that leads to `terminal` already is ours. Anything else at that path stays as it is, and the
/// error says what it is. From now on a crash removes it (left_behind.hpp).
[[nodiscard]] Result<Done, std::string> place_link(const std::string& link, const std::string& terminal,
                                                   const std::function<bool(const std::string&)>& in_use);

/// Removes the link if it still leads to `terminal`.
void remove_link(const std::string& link, const std::string& terminal);

/// Makes the folder that `path` lies in, and those above it, each with `mode`.
[[nodiscard]] Result<Done, std::string> make_parent_folders(const std::string& path, unsigned mode);

}  // namespace emberline::io

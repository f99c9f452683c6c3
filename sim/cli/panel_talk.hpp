#pragma once

#include <optional>
#include <string>

#include "sim/base/result.hpp"

namespace emberline::cli {

/// A panel that is asked, and what it wants to be shown.
struct PanelPlace {
  std::string url;
  std::string token;  ///< empty: none
};
/// Why the panel does not do what it was asked for.
struct PanelTrouble {
  int status = 0;    ///< to exit with
  std::string line;  ///< for the user
};

/// Complains, and gives what to exit with.
[[nodiscard]] int gave_up(const PanelTrouble& trouble);

/// Where the panel of `where` is (a bench file, a control socket, or its address, be it with the path of a
/// page behind it), with the token that stands in the first line of a file, if one is given.
[[nodiscard]] Result<PanelPlace, PanelTrouble> find_panel(const std::string& where,
                                                          const std::string& token_file);

/// Asks a panel: GET, or POST with a body. Gives the body of an answer that says all is well.
[[nodiscard]] Result<std::string, PanelTrouble> ask_panel(
    const PanelPlace& panel, const std::string& path, const std::optional<std::string>& body = std::nullopt);

/// A path that is a socket or is named like one; everything else is a bench file, whose socket has a fixed
/// place.
[[nodiscard]] std::string socket_of(const std::string& where);

}  // namespace emberline::cli

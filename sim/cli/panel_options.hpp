#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/bench/panel_spec.hpp"
#include "sim/io/panel/panel_server.hpp"

namespace CLI {  // NOLINT(readability-identifier-naming): of the library
class App;
}

namespace emberline::cli {

/// What the command line says of a panel.
struct PanelOptions {
  std::string address;             ///< "[HOST:]PORT" or "off"; empty: as the bench says
  std::string token_file;          ///< empty: none
  std::vector<std::string> names;  ///< further names by which its page may be asked for
};

/// Adds --panel, --panel-token and --panel-name.
void add_panel_options(CLI::App* command, PanelOptions& options);

/// Where the panel shall be; nothing: off. What the command line says wins over the bench; neither:
/// 127.0.0.1:8710, or any free port if that is taken. The error is one line: a misspelt address, an unusable
/// token file, other machines and no token, a token or a name for a panel that is off.
[[nodiscard]] Result<std::optional<io::PanelAddress>, std::string> panel_address(
    const PanelOptions& options, const std::optional<bench::PanelSpec>& of_bench);

/// The two tokens in a file: the trainer's in its first line, the class's in the second, which may be
/// missing. The error is one line that begins with the file.
struct PanelTokens {
  std::string trainer;
  std::string watcher;
};
[[nodiscard]] Result<PanelTokens, std::string> read_tokens(const std::string& file);

/// What is printed about a panel that has opened, one line with its break.
[[nodiscard]] std::string panel_banner(const std::string& url, const io::PanelAddress& address);

}  // namespace emberline::cli

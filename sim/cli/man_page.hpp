#pragma once

namespace CLI {  // NOLINT(readability-identifier-naming): of the library
class App;
}

namespace emberline::cli {

/// Adds the command to the command line.
void add_man_page(CLI::App& app);
/// `emberline man`: prints the manual page as roff, made of the command line itself; gives the exit status.
[[nodiscard]] int man_page(const CLI::App& app);

}  // namespace emberline::cli

#pragma once

#include <string>

namespace CLI {  // NOLINT(readability-identifier-naming): of the library
class App;
}

namespace emberline::cli {

/// `emberline completion SHELL`: a script that completes commands, options, words and files.
struct CompletionOptions {
  std::string shell;  ///< bash, zsh or fish
};

/// Adds the command to the command line.
void add_completion(CLI::App& app, CompletionOptions& options);
/// Prints the script, made of the command line itself, so that it knows all of it; gives the exit status.
[[nodiscard]] int completion(const CLI::App& app, const CompletionOptions& options);

}  // namespace emberline::cli

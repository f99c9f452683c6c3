#pragma once

#include <string>
#include <vector>

namespace CLI {  // NOLINT(readability-identifier-naming): of the library
class App;
class Option;
}  // namespace CLI

namespace emberline::cli {

/// The commands of the program, in the order they were added.
[[nodiscard]] std::vector<const CLI::App*> commands_of(const CLI::App& app);
/// What a command takes: its options and flags, also those of groups, without its positional ones.
[[nodiscard]] std::vector<const CLI::Option*> options_of(const CLI::App& command);
/// Its positional ones.
[[nodiscard]] std::vector<const CLI::Option*> positionals_of(const CLI::App& command);
/// True if a value has to follow.
[[nodiscard]] bool takes_value(const CLI::Option& option);
/// All spellings, such as "-j" and "--jobs"; of a positional one its name.
[[nodiscard]] std::vector<std::string> spellings_of(const CLI::Option& option);

/// What can stand for a value.
struct Completed {
  enum class Kind { nothing, words, file, folder };
  Kind kind = Kind::nothing;
  std::vector<std::string> words;
  std::string suffix;  ///< of the files, such as ".yaml"; empty: any
};
/// Taken from its name and description: "text, csv or json" is a choice of three words.
[[nodiscard]] Completed completed(const CLI::Option& option);

}  // namespace emberline::cli

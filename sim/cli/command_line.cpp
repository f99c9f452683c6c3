#include "sim/cli/command_line.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <string_view>
#include <utility>

#include <CLI/CLI.hpp>

namespace emberline::cli {
namespace {

/// What is named so is a file with that ending.
constexpr std::array<std::pair<std::string_view, std::string_view>, 10> kSuffixes{{
    {"BENCH", ".yaml"},
    {"SCENARIO", ".yaml"},
    {"FILE", ".yaml"},
    {"--bench", ".yaml"},
    {"--registers", ".yaml"},
    {"--mapping", ".yaml"},
    {"--poll-plan", ".yaml"},
    {"BENCH-OR-SOCKET-OR-URL", ".yaml"},
    {"TABLE", ".csv"},
    {"SHARD", ".json"},
}};

void collect(const CLI::App& command, bool positional, std::vector<const CLI::Option*>& found) {
  for (const auto* option : command.get_options())
    if (option->get_positional() == positional) found.push_back(option);
  for (const auto* group :
       command.get_subcommands([](const CLI::App* one) { return one->get_name().empty(); }))
    collect(*group, positional, found);
}

bool is_word(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](unsigned char one) {
    return (std::islower(one) != 0) || (std::isdigit(one) != 0) || one == '-';
  });
}

/// The words of "text, csv or json"; none if it is anything else.
std::vector<std::string> choice_in(std::string_view description) {
  std::vector<std::string> words;
  const auto last = description.rfind(" or ");
  if (last == std::string_view::npos) return {};
  auto rest = description.substr(0, last);
  while (true) {
    const auto comma = rest.find(", ");
    words.emplace_back(rest.substr(0, comma));
    if (comma == std::string_view::npos) break;
    rest.remove_prefix(comma + 2);
  }
  words.emplace_back(description.substr(last + 4));
  return std::all_of(words.begin(), words.end(), is_word) ? words : std::vector<std::string>{};
}

}  // namespace

std::vector<const CLI::App*> commands_of(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App* one) { return !one->get_name().empty(); });
}

std::vector<const CLI::Option*> options_of(const CLI::App& command) {
  std::vector<const CLI::Option*> found;
  collect(command, false, found);
  return found;
}

std::vector<const CLI::Option*> positionals_of(const CLI::App& command) {
  std::vector<const CLI::Option*> found;
  collect(command, true, found);
  return found;
}

bool takes_value(const CLI::Option& option) { return option.get_items_expected_max() > 0; }

std::vector<std::string> spellings_of(const CLI::Option& option) {
  if (option.get_positional()) return {option.get_name(true)};
  std::vector<std::string> all;
  for (const auto& one : option.get_snames()) all.push_back("-" + one);
  for (const auto& one : option.get_lnames()) all.push_back("--" + one);
  return all;
}

Completed completed(const CLI::Option& option) {
  Completed what;
  const auto& description = option.get_description();
  if (what.words = choice_in(description); !what.words.empty()) {
    what.kind = Completed::Kind::words;
    return what;
  }
  const auto name = spellings_of(option).back();
  for (const auto& [known, suffix] : kSuffixes)
    if (name == known) {
      what.kind = Completed::Kind::file;
      what.suffix = suffix;
      return what;
    }
  const auto says = [&description](const char* word) { return description.find(word) != std::string::npos; };
  if (name == "FOLDER" || says("this folder")) {
    what.kind = Completed::Kind::folder;
  } else if (says("Write ") || says("file") || says("File") || says("Unix socket")) {
    what.kind = Completed::Kind::file;
  }
  return what;
}

}  // namespace emberline::cli

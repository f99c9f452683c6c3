#include "sim/cli/new.hpp"

#include <algorithm>
#include <filesystem>
#include <string>
#include <string_view>
#include <system_error>
#include <vector>

#include <CLI/CLI.hpp>

#include "sim/cli/exit_code.hpp"
#include "sim/cli/new_folder.hpp"
#include "sim/cli/new_questions.hpp"
#include "sim/cli/new_texts.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/schema_line.hpp"
#include "sim/io/files/load.hpp"

namespace emberline::cli {
namespace {

namespace fs = std::filesystem;

/// The line for an editor, where there is one, on top of a file.
std::string with_schema(const std::string& folder, const char* schema, const std::string& text) {
  const auto line = schema_line(folder, schema);
  return line.empty() ? text : line + "\n" + text;
}

/// A word for a shell.
std::string shell_word(const std::string& text) {
  const auto harmless = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           std::string_view("/._-+,:@").find(c) != std::string_view::npos;
  };
  if (std::all_of(text.begin(), text.end(), harmless)) return text;
  std::string quoted = "'";
  for (const char c : text) quoted += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return quoted + "'";
}

std::vector<NewFile> files_of(const Answers& answers, const std::string& folder) {
  return {{kNewBench, with_schema(folder, "bench.json", new_bench(answers))},
          {kNewRegisters, with_schema(folder, "register-table.json", new_registers(answers))},
          {kNewScenario, with_schema(folder, "scenario.json", new_scenario(answers))}};
}

/// What our own loader has against the files: it knows more of names, hosts and texts than the questions do.
std::string why_not_loaded(const std::string& folder) {
  const auto loaded = io::load_scenario((fs::path(folder) / kNewScenario).string());
  if (loaded || loaded.error().empty()) return {};
  const auto& problem = loaded.error().front();
  return "these answers do not make a bench: " + problem.message;
}

void say_what_next(const std::string& folder) {
  const auto file = [&](const char* name) {
    return shell_word((fs::path(folder) / name).lexically_normal().string());
  };
  print("Written: " + file(kNewBench) + ", " + file(kNewRegisters) + ", " + file(kNewScenario) +
        "\n\nNext: see that they are good, rehearse the first scenario, and let a master of yours in:\n"
        "  emberline check " +
        file(kNewBench) + " " + file(kNewRegisters) + " " + file(kNewScenario) + "\n  emberline rehearse " +
        file(kNewScenario) + "\n  emberline serve " + file(kNewBench) +
        "\n\nThe timeout and the policy on comms loss are yours to decide; the addresses are invented: write "
        "the\n"
        "table from the manual of the device that will be installed.\n");
}

}  // namespace

void add_new(CLI::App& app, NewOptions& options) {
  auto* command =
      app.add_subcommand("new", "Ask six questions and write a bench, a register table, a scenario");
  command->add_option("FOLDER", options.folder, "Where to; made if need be")->capture_default_str();
  for (std::size_t i = 0; i < kFieldCount; ++i) {
    const auto& field = fields()[i];
    command->add_option(std::string(field.flag), options.given[i],
                        std::string(field.help) + " [" + std::string(field.fallback) + "]");
  }
  command->add_flag("--yes", options.yes, "Ask nothing: defaults for what is not given");
  command->footer(
      "What no flag gives is asked for; Enter takes the default. Never writes over a file.\n"
      "Exit status: 0 written, 2 an answer cannot be used or a file is there already, 3 cannot be written.\n"
      "Examples:\n"
      "  emberline new my-kiln\n"
      "  emberline new my-kiln --units 3 --line 127.0.0.1:1502 --policy go-to-preset --timeout '5 s' "
      "--yes\n");
}

int make_new(const NewOptions& options) {
  if (options.folder.empty()) {
    complain("FOLDER: expected the name of a folder, found nothing");
    return kInputUnusable;
  }
  // Nobody should answer six questions for nothing.
  const std::vector<NewFile> names{{kNewBench, {}}, {kNewRegisters, {}}, {kNewScenario, {}}};
  if (const auto taken = taken_in(options.folder, names); !taken.empty()) {
    complain(taken);
    return kInputUnusable;
  }
  const auto answers = find_answers(options);
  if (!answers) return kInputUnusable;
  const auto put = put_into(options.folder, files_of(*answers, options.folder), why_not_loaded);
  if (!put) {
    complain(put.error().message);
    return put.error().of_input ? kInputUnusable : kSurroundingsFailed;
  }
  say_what_next(options.folder);
  return kAllWell;
}

}  // namespace emberline::cli

#include "sim/cli/completion.hpp"

#include <vector>

#include <CLI/CLI.hpp>

#include "sim/cli/command_line.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"

namespace emberline::cli {
namespace {

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const auto& word : words) text += (text.empty() ? "" : " ") + word;
  return text;
}

/// As one word of a shell; a quote inside as `quote`.
std::string in_quotes(const std::string& text, const std::string& quote) {
  std::string result = "'";
  for (const char one : text) {
    if (one == '\'')
      result += quote;
    else
      result += one;
  }
  return result + "'";
}

std::vector<std::string> flags_of(const CLI::App& command) {
  std::vector<std::string> all;
  for (const auto* option : options_of(command))
    for (auto& spelling : spellings_of(*option)) all.push_back(std::move(spelling));
  return all;
}

std::string bash_call(const Completed& what) {
  switch (what.kind) {
    case Completed::Kind::words:
      return "_emberline_words " + in_quotes(joined(what.words), "");
    case Completed::Kind::file:
      return "_emberline_files " + in_quotes(what.suffix, "");
    case Completed::Kind::folder:
      return "_emberline_folders";
    case Completed::Kind::nothing:
      break;
  }
  return ":";
}

constexpr const char* kBashHead = R"(_emberline_words() {
  local one
  for one in $1; do
    if [[ $one == "$word"* ]]; then COMPREPLY+=("$one"); fi
  done
}
_emberline_folders() {
  local IFS=$'\n'
  compopt -o filenames 2> /dev/null
  COMPREPLY+=($(compgen -d -- "$word"))
}
# Those that end in $1, and the folders they may lie in.
_emberline_files() {
  local IFS=$'\n'
  compopt -o filenames 2> /dev/null
  if [ -z "$1" ]; then
    COMPREPLY+=($(compgen -f -- "$word"))
  else
    COMPREPLY+=($(compgen -d -- "$word") $(compgen -f -X "!*$1" -- "$word"))
  fi
}
_emberline() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} command="" i
  COMPREPLY=()
  for ((i = 1; i < COMP_CWORD; i++)); do
    case ${COMP_WORDS[i]} in
      -*) ;;
      *) command=${COMP_WORDS[i]}; break ;;
    esac
  done
)";

std::string bash_script(const CLI::App& app) {
  std::string values;
  std::string flags = "      '') _emberline_words " + in_quotes(joined(flags_of(app)), "") + " ;;\n";
  std::string words;
  std::vector<std::string> names;
  for (const auto* command : commands_of(app)) {
    const auto name = command->get_name();
    names.push_back(name);
    flags += "      " + name + ") _emberline_words " + in_quotes(joined(flags_of(*command)), "") + " ;;\n";
    for (const auto* option : options_of(*command)) {
      if (!takes_value(*option)) continue;
      for (const auto& spelling : spellings_of(*option)) {
        const auto call = bash_call(completed(*option));
        values.append("    '").append(name).append(" ").append(spelling).append("') ").append(call).append(
            "; return ;;\n");
      }
    }
    std::string calls;
    for (const auto* positional : positionals_of(*command)) {
      const auto call = bash_call(completed(*positional));
      if (call != ":") calls += (calls.empty() ? "" : "; ") + call;
    }
    if (!calls.empty()) words += "    " + name + ") " + calls + " ;;\n";
  }
  return std::string(kBashHead) + "  case \"$command $before\" in\n" + values + "  esac\n" +
         "  if [[ $word == -* ]]; then\n    case $command in\n" + flags + "    esac\n    return\n  fi\n" +
         "  case $command in\n    '') _emberline_words " + in_quotes(joined(names), "") + " ;;\n" + words +
         "  esac\n}\ncomplete -F _emberline emberline\n";
}

/// What completes a value, with a description of its own where there is one.
std::string fish_value(const Completed& what) {
  switch (what.kind) {
    case Completed::Kind::words:
      return " -x -a " + in_quotes(joined(what.words), "\\'");
    case Completed::Kind::file:
      return what.suffix.empty() ? " -r -F" : " -x -a '(__fish_complete_suffix " + what.suffix + ")'";
    case Completed::Kind::folder:
      return " -x -a '(__fish_complete_directories)'";
    case Completed::Kind::nothing:
      break;
  }
  return " -x";
}

std::string fish_option(const CLI::Option& option, const std::string& condition) {
  std::string line = "complete -c emberline" + condition;
  for (const auto& one : option.get_snames()) line += " -s " + one;
  for (const auto& one : option.get_lnames()) line += " -l " + one;
  if (takes_value(option)) line += fish_value(completed(option));
  return line + " -d " + in_quotes(option.get_description(), "\\'") + "\n";
}

std::string fish_script(const CLI::App& app) {
  std::string text = "complete -c emberline -f\n";
  const std::string no_command = " -n __fish_use_subcommand";
  for (const auto* option : options_of(app)) text += fish_option(*option, no_command);
  for (const auto* command : commands_of(app))
    text += "complete -c emberline" + no_command + " -a " + command->get_name() + " -d " +
            in_quotes(command->get_description(), "\\'") + "\n";
  for (const auto* command : commands_of(app)) {
    const auto condition = " -n '__fish_seen_subcommand_from " + command->get_name() + "'";
    for (const auto* option : options_of(*command)) text += fish_option(*option, condition);
    for (const auto* positional : positionals_of(*command)) {
      const auto what = completed(*positional);
      if (what.kind == Completed::Kind::nothing) continue;
      const auto value = fish_value(what);
      text += "complete -c emberline" + condition + (value == " -r -F" ? " -F" : value.substr(3)) + "\n";
    }
  }
  return text;
}

}  // namespace

void add_completion(CLI::App& app, CompletionOptions& options) {
  auto* command = app.add_subcommand("completion", "Print what lets a shell complete commands and files");
  command->add_option("SHELL", options.shell, "bash, zsh or fish")->required();
  command->footer(
      "zsh looks into ~/.zfunc if ~/.zshrc has `fpath+=(~/.zfunc)` before `compinit`.\n"
      "Exit status: 0 printed, 2 a shell that is not known.\n"
      "Examples:\n"
      "  mkdir -p ~/.local/share/bash-completion/completions ~/.zfunc ~/.config/fish/completions\n"
      "  emberline completion bash > ~/.local/share/bash-completion/completions/emberline\n"
      "  emberline completion zsh > ~/.zfunc/_emberline\n"
      "  emberline completion fish > ~/.config/fish/completions/emberline.fish\n");
}

int completion(const CLI::App& app, const CompletionOptions& options) {
  const auto made = "made by `emberline completion " + options.shell + "`\n";
  if (options.shell == "bash") {
    print("# Completion for bash, " + made + bash_script(app));
  } else if (options.shell == "zsh") {
    // zsh runs what is written for bash, once it is told to; a file of completions is the body of a function.
    print("#compdef emberline\n# Completion for zsh, " + made +
          "autoload -U +X bashcompinit && bashcompinit\n" + bash_script(app));
  } else if (options.shell == "fish") {
    print("# Completion for fish, " + made + fish_script(app));
  } else {
    complain("SHELL: expected bash, zsh or fish, found '" + options.shell + "'");
    return kInputUnusable;
  }
  return kAllWell;
}

}  // namespace emberline::cli

#include "sim/cli/man_page.hpp"

#include <algorithm>
#include <string>
#include <string_view>

#include <CLI/CLI.hpp>

#include "sim/cli/command_line.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"

namespace emberline::cli {
namespace {

/// Text as roff takes it: a hyphen is a minus, as it stands in commands, and nothing looks like a request.
std::string roff(std::string_view text) {
  std::string result;
  for (const char one : text) {
    if ((one == '.' || one == '\'') && (result.empty() || result.back() == '\n')) result += "\\&";
    switch (one) {
      case '\\':
        result += "\\e";
        break;
      case '-':
        result += "\\-";
        break;
      case '\'':
        result += "\\(aq";
        break;
      case '`':
        result += "\\(ga";
        break;
      case '^':
        result += "\\(ha";
        break;
      case '~':
        result += "\\(ti";
        break;
      default:
        result += one;
    }
  }
  return result;
}

std::string bold(const std::string& text) { return "\\fB" + roff(text) + "\\fR"; }
std::string slanted(const std::string& text) { return "\\fI" + roff(text) + "\\fR"; }

/// What stands below the options of a command: prose that flows, examples as they are.
std::string below(const std::string& footer) {
  std::string text;
  bool examples = false;
  std::size_t at = 0;
  while (at < footer.size()) {
    const auto end = std::min(footer.find('\n', at), footer.size());
    const auto line = footer.substr(at, end - at);
    at = end + 1;
    const bool example = line.rfind("  ", 0) == 0;
    if (example != examples) text += example ? ".PP\n.RS 4\n.nf\n" : ".fi\n.RE\n";
    examples = example;
    if (line.empty()) continue;
    // A sentence that begins a line begins a paragraph: what it says stands for itself.
    if (line.rfind("Exit status", 0) == 0 || line.rfind("Example", 0) == 0) text += ".PP\n";
    text += roff(example ? line.substr(2) : line) + "\n";
  }
  if (examples) text += ".fi\n.RE\n";
  return text;
}

std::string value_name(const CLI::Option& option) {
  const auto what = completed(option);
  std::string text;
  if (what.kind != Completed::Kind::words) return slanted("VALUE");
  for (const auto& word : what.words) text += (text.empty() ? "" : "|") + bold(word);
  return text;
}

std::string described(const CLI::Option& option) {
  std::string head;
  for (const auto& spelling : spellings_of(option)) {
    if (!head.empty()) head += ", ";
    head += option.get_positional() ? slanted(spelling) : bold(spelling);
  }
  if (!option.get_positional() && takes_value(option)) head += " " + value_name(option);
  auto text = ".TP\n" + head + "\n" + roff(option.get_description());
  if (const auto fallback = option.get_default_str(); takes_value(option) && !fallback.empty())
    text += "; default: " + roff(fallback);
  return text + "\n";
}

std::string command_text(const CLI::App& command) {
  std::string synopsis = bold("emberline " + command.get_name());
  bool any = false;
  for (const auto* option : options_of(command)) any = any || spellings_of(*option).back() != "--help";
  if (any) synopsis += " [" + slanted("OPTION") + "]...";
  std::string options;
  for (const auto* positional : positionals_of(command)) {
    const auto name =
        slanted(spellings_of(*positional).back()) + (positional->get_items_expected_max() > 1 ? "..." : "");
    synopsis += positional->get_required() ? " " + name : " [" + name + "]";
    options += described(*positional);
  }
  for (const auto* option : options_of(command))
    if (spellings_of(*option).back() != "--help") options += described(*option);
  return ".SS " + roff(command.get_name()) + "\n" + roff(command.get_description()) + ".\n.PP\n" + synopsis +
         "\n" + options + ".PP\n" + below(command.get_footer());
}

constexpr const char* kAbout = R"(.SH DESCRIPTION
A bench of power controllers that exist only in software. A PLC program, or any other Modbus master, is pointed at a
pseudo\-terminal, a serial port or a TCP port, and is answered as thyristor units would answer that feed electric heaters.
Then a cable is pulled, and it is judged what the program made of it.
.PP
Benches, register tables, scenarios, poll plans and mappings of tables are files in YAML; what can stand in them is
listed in config/README.md of the source.
)";

constexpr const char* kBehind = R"(.SH EXIT STATUS
.TP
.B 0
All well.
.TP
.B 1
A verdict failed, or a poll plan does not fit.
.TP
.B 2
The input cannot be used: a file, an option, an answer of a device.
.TP
.B 3
The surroundings failed: a port is taken, nobody answers, a disk is full.
.SH ENVIRONMENT
.TP
.B XDG_RUNTIME_DIR
Where the control socket of a served bench lies; /tmp if it is not set.
.TP
.B NO_COLOR
If it is set and not empty, nothing is coloured.
.TP
.B TERM
What kind of terminal it is; on
.B dumb
no line is written over.
.SH FILES
.TP
.I $XDG_RUNTIME_DIR/emberline\-UID/NAME.sock
Control socket of a bench that is served, by the name of its file and the number of the user:
.B emberline tell
finds it there.
.TP
.I /tmp/emberline/
Where the shipped benches put the links to their pseudo\-terminals.
.SH CAUTIONS
)";

constexpr const char* kEnd = R"(.SH EXAMPLES
A whole job, from a device's table to a verdict, in the folder of the source:
.PP
.RS 4
.nf
emberline new my\-furnace \-\-units 2 \-\-yes
emberline import config/samples/furnace.csv \-\-mapping config/mappings/one\-based.yaml \-\-out my\-furnace/registers.yaml
cp config/samples/furnace\-poll\-plan.yaml my\-furnace/poll\-plan.yaml
emberline check my\-furnace/*.yaml
emberline registers my\-furnace/bench.yaml \-\-as st \-\-out registers.st
emberline poll\-plan my\-furnace/poll\-plan.yaml
emberline rehearse my\-furnace/cable\-pulled.yaml \-\-report evidence.html
.fi
.RE
)";

}  // namespace

void add_man_page(CLI::App& app) {
  auto* command = app.add_subcommand("man", "Print the manual page, as roff");
  command->footer(
      "Exit status: 0 printed.\n"
      "Examples:\n"
      "  mkdir -p ~/.local/share/man/man1\n"
      "  emberline man > ~/.local/share/man/man1/emberline.1\n"
      "  emberline man | man -l -\n");
}

int man_page(const CLI::App& app) {
  std::string text =
      ".TH EMBERLINE 1 \"\" \"emberline " EMBERLINE_VERSION "\" \"User Commands\"\n.SH NAME\nemberline \\- " +
      std::string("bench of virtual power controllers for PLC programs\n.SH SYNOPSIS\n") + bold("emberline") +
      " " + slanted("COMMAND") + " [" + slanted("OPTION") + "]... [" + slanted("ARGUMENT") + "]...\n.PP\n" +
      bold("emberline") + " " + slanted("COMMAND") + " " + bold("--help") + "\n" + kAbout + ".SH COMMANDS\n";
  for (const auto* command : commands_of(app)) text += command_text(*command);
  print(text + kBehind + roff(cautions()) + "\n" + kEnd);
  return kAllWell;
}

}  // namespace emberline::cli

#include <CLI/CLI.hpp>

#include "sim/cli/options.hpp"

namespace emberline::cli {

void add_check(CLI::App& app, std::vector<std::string>& files) {
  auto* command = app.add_subcommand(
      "check", "Say what is wrong with benches, register tables, scenarios, poll plans and table mappings");
  command->add_option("FILE", files, "Files of these five kinds")->required();
  command->footer(
      "Exit status: 0 all good, 2 something is wrong.\n"
      "Examples:\n"
      "  emberline check config/benches/annealing-lehr.yaml\n"
      "  emberline check config/registers/*.yaml scenarios/*.yaml\n");
}

void add_registers(CLI::App& app, RegistersOptions& options) {
  auto* command = app.add_subcommand("registers", "List a register table, or the tables of a bench");
  command->add_option("FILE", options.file, "A register table or a bench")->required();
  command->add_option("--as", options.format, "text, markdown, csv, json, html, st or yaml")
      ->capture_default_str();
  command->add_option("--unit", options.unit, "Of a bench: only the table of this unit");
  command->add_option("--out", options.out, "Write it to this file, whole or not at all");
  command->footer(
      "text, markdown and html are for people, html on A4. csv goes into a spreadsheet; `import` reads it\n"
      "back; csv and yaml hold one table. json has the block reads of every unit too. st is Structured Text\n"
      "(IEC 61131-3): addresses, a structure of the points, functions that scale both ways, block reads.\n"
      "Reference numbers have five digits for people (40049) and all six in csv and json (400049).\n"
      "I/O blocks of a bench have no register table and are left out.\n"
      "Exit status: 0 listed, 2 the file cannot be used, 3 the output cannot be written.\n"
      "Examples:\n"
      "  emberline registers config/registers/short-blocks.yaml\n"
      "  emberline registers config/registers/float-pairs.yaml --as html --out float-pairs.html\n"
      "  emberline registers config/benches/annealing-lehr.yaml --unit soak-heater --as csv\n"
      "  emberline registers config/benches/annealing-lehr.yaml --as st --out lehr.st\n");
}

void add_poll_plan(CLI::App& app, PollPlanOptions& options) {
  auto* command =
      app.add_subcommand("poll-plan", "Plan the polling of a line: which block reads, and whether they fit");
  command->add_option("FILE", options.file, "A poll plan: what is wanted, and how often")->required();
  command->add_option("--as", options.format, "text, csv, markdown, json or st")->capture_default_str();
  command->add_option("--out", options.out, "Write it to this file, whole or not at all");
  command->footer(
      "Tells the block reads that take least line time, the load of the line, how old each value gets,\n"
      "what a dead slave does to the others, and which watchdog timeouts do not trip by themselves.\n"
      "csv has the requests and nothing else; st is Structured Text (IEC 61131-3).\n"
      "A comms watchdog is no safety function.\n"
      "Exit status: 0 it fits, 1 it does not, 2 the file cannot be used, 3 the output cannot be written.\n"
      "Examples:\n"
      "  emberline poll-plan config/polls/lehr-field.yaml\n"
      "  emberline poll-plan config/polls/lehr-field.yaml --as st --out polling.st\n");
}

}  // namespace emberline::cli

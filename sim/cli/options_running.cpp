#include <string>

#include <CLI/CLI.hpp>

#include "sim/cli/options.hpp"

namespace emberline::cli {
namespace {

/// Whom `tell` and `watch` speak to.
void add_running_bench(CLI::App* command, std::string& where, std::string& token_file) {
  command
      ->add_option("BENCH-OR-SOCKET-OR-URL", where,
                   "The bench file being served, its control socket, or the address of its panel")
      ->required();
  command->add_option("--token-file", token_file,
                      "File with the panel's token in its first line, where it asks for one");
}

}  // namespace

void add_tell(CLI::App& app, TellOptions& options) {
  auto* command = app.add_subcommand("tell", "Do to a running bench what a timeline entry does");
  add_running_bench(command, options.where, options.token_file);
  command->add_option("ACTION", options.words,
                      "Such as 'cut field', 'cycle soak-heater.terminal.enable', or 'traffic' for a review");
  command->add_flag("--ping", options.ping, "Only ask whether it is there; never touches a line");
  command->footer(
      "Exit status: 0 done, 2 not understood, 3 nobody there.\n"
      "Examples:\n"
      "  emberline tell config/benches/annealing-lehr.yaml 'cut field'\n"
      "  emberline tell config/benches/annealing-lehr.yaml 'drop_answers field share 20 % for 1 min'\n"
      "  emberline tell config/benches/annealing-lehr.yaml 'thyristor_shorted soak-heater.l1'\n"
      "  emberline tell config/benches/annealing-lehr.yaml 'mend soak-heater'\n"
      "  emberline tell config/benches/annealing-lehr.yaml traffic\n"
      "  emberline tell --ping config/benches/annealing-lehr.yaml\n"
      "  emberline tell http://127.0.0.1:8710/ 'cut field for 10 s'\n");
}

void add_watch(CLI::App& app, WatchOptions& options) {
  auto* command = app.add_subcommand("watch", "Show what a running bench does, a line a second");
  add_running_bench(command, options.where, options.token_file);
  command->add_option("--every", options.every, "How often, from '100 ms' on")->capture_default_str();
  command->add_flag("--once", options.once, "One line, and an end");
  command->footer(
      "Goes on until Ctrl-C. It asks the bench's panel, so serve must not have it off.\n"
      "Exit status: 0 stopped as asked, 2 not understood, 3 nobody there, or it ended.\n"
      "Examples:\n"
      "  emberline watch config/benches/annealing-lehr.yaml\n"
      "  emberline watch http://127.0.0.1:8710/ --every '5 s'\n"
      "  emberline watch config/benches/annealing-lehr.yaml --once\n");
}

}  // namespace emberline::cli

#include <string>

#include <CLI/CLI.hpp>

#include "sim/cli/options.hpp"

namespace emberline::cli {
namespace {

void add_master_options(CLI::App* command, MasterOptions& options, const char* points) {
  auto* source = command->add_option_group("source", "Where the addresses come from");
  source->add_option("--bench", options.bench, "A bench: LINE and UNIT may be its names");
  source->add_option("--registers", options.registers,
                     "A register table: LINE is a tty or HOST:PORT, UNIT an id");
  source->require_option(1);
  command->add_option("LINE", options.line, "A line of the bench, a tty's path, or HOST:PORT")->required();
  command->add_option("UNIT", options.unit, "A unit or io-block of the bench, or a unit id")->required();
  command->add_option("POINT", options.points, points)->required();
  command->add_option("--serial", options.serial, "Speed and format of a tty")
      ->capture_default_str()
      ->each([&options](const std::string&) { options.serial_given = true; });
  command->add_option("--timeout", options.timeout, "How long to wait for an answer")->capture_default_str();
}

}  // namespace

void add_master(CLI::App& app, MasterOptions& options) {
  auto* read = app.add_subcommand("read", "Read points as a master");
  add_master_options(read, options, "Points to read, such as state or load_power");
  read->footer(
      "Exit status: 0 read, 2 refused or not understood, 3 no answer, or busy.\n"
      "Examples:\n"
      "  emberline read --bench config/benches/annealing-lehr.yaml field soak-heater state load_power\n"
      "  emberline read --registers config/registers/short-blocks.yaml /dev/ttyUSB0 1 setpoint --serial "
      "'9600 8N2'\n");
  auto* write = app.add_subcommand("write", "Write points as a master");
  add_master_options(write, options, "Points and values, such as 'setpoint=50 %'");
  write->add_option("--every", options.every, "Write again and again, such as '1 s', until Ctrl-C");
  write->footer(
      "On a real line this commands real equipment: it may switch real heat.\n"
      "Exit status: 0 written, 2 refused or not understood, 3 no answer, or busy.\n"
      "Examples:\n"
      "  emberline write --bench config/benches/annealing-lehr.yaml ethernet marshalling coil.0=on "
      "coil.8=on\n"
      "  emberline write --bench config/benches/annealing-lehr.yaml field soak-heater 'setpoint=50 %' "
      "--every '1 s'\n");
}

}  // namespace emberline::cli

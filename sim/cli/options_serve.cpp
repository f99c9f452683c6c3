#include <string>

#include <CLI/CLI.hpp>

#include "sim/cli/options.hpp"

namespace emberline::cli {
namespace {

void add_chance_and_pace(CLI::App* command, std::string& seed, double& plant_speed) {
  command->add_option("--seed", seed, "Seed of everything random, a whole number")->capture_default_str();
  command
      ->add_option(
          "--plant-speed", plant_speed,
          "Let zones, walls and sensors run so many times as fast; energy, fuses and the like do not")
      ->check(CLI::Range(0.01, 10000.0));
}

}  // namespace

void add_serve(CLI::App& app, ServeOptions& options) {
  auto* command = app.add_subcommand("serve", "Answer masters on the lines of a bench until told to stop");
  command->add_option("BENCH", options.bench, "The bench file")->required();
  command->add_option("--control", options.control,
                      "Where `emberline tell` finds this bench (a Unix socket)");
  command->add_option("--ready-file", options.ready_file,
                      "Write this JSON file once all lines answer; it goes when the bench is stopped");
  auto* capture =
      command->add_option("--capture", options.capture, "Write what stands on the lines to this pcapng file");
  command
      ->add_option("--capture-limit", options.capture_limit,
                   "At most so many MB of it are kept, the older half beside it, in lehr.old.pcapng for "
                   "lehr.pcapng; 0: all")
      ->needs(capture)
      ->capture_default_str();
  command->add_option("--poll-plan", options.poll_plans,
                      "Hold the traffic against this poll plan; may be given again");
  add_panel_options(command, options.panel);
  add_chance_and_pace(command, options.seed, options.plant_speed);
  command->footer(
      "Exit status: 0 stopped as asked, 2 the bench cannot be used, 3 the surroundings failed (a port taken, "
      "no pty).\n"
      "Examples:\n"
      "  emberline serve config/benches/annealing-lehr.yaml\n"
      "  emberline serve config/benches/annealing-lehr.yaml --ready-file /tmp/ready.json --plant-speed 20\n"
      "  emberline serve config/benches/annealing-lehr.yaml --poll-plan config/polls/lehr-field.yaml\n"
      "  (umask 077; head -c 18 /dev/urandom | base64 > token.txt)\n"
      "  emberline serve config/benches/annealing-lehr.yaml --panel 0.0.0.0:8710 --panel-token token.txt\n");
}

void add_lesson(CLI::App& app, LessonOptions& options) {
  auto* command = app.add_subcommand("lesson", "Walk through a scenario with a class, in the panel");
  command->add_option("SCENARIO", options.scenario, "The scenario file")->required();
  add_panel_options(command, options.panel);
  command->add_flag("--real-master", options.real_master,
                    "Leave the stand-ins out and open the bench's lines as written");
  command->add_flag("--blind", options.blind,
                    "The class sees what the faults do, and not the faults, until the trainer says so");
  command->add_option("--ready-file", options.ready_file,
                      "Write this JSON file once the page can be opened; it goes when the lesson is stopped");
  add_chance_and_pace(command, options.seed, options.plant_speed);
  command->footer(
      "Goes on until Ctrl-C, on the wall clock, however long each step takes.\n"
      "Exit status: 0 stopped as asked, 2 the scenario cannot be used, 3 the surroundings failed.\n"
      "Examples:\n"
      "  emberline lesson scenarios/lesson-two-step-recovery.yaml\n"
      "  emberline lesson scenarios/voltage-dip.yaml --blind\n"
      "  (umask 077; head -c 18 /dev/urandom | base64 > token.txt)\n"
      "  emberline lesson scenarios/voltage-dip.yaml --real-master --panel 0.0.0.0:8710 --panel-token "
      "token.txt\n");
}

}  // namespace emberline::cli

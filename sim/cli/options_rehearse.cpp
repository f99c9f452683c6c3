#include <string>

#include <CLI/CLI.hpp>

#include "sim/cli/options.hpp"

namespace emberline::cli {
namespace {

void add_rehearse_results(CLI::App* command, RehearseOptions& options) {
  command->add_option("--report", options.report,
                      "Write the verdicts as one HTML page, to read and to print");
  command->add_option("--junit", options.junit, "Write the verdicts as JUnit XML");
  command->add_option("--json", options.json, "Write verdicts and journals as JSON");
  command->add_option("--trends", options.trends, "Write the signals over time as CSV, into this folder");
  command->add_option("--capture", options.capture,
                      "Write what stands on the lines to this pcapng file; for one rehearsal");
  command->add_option("--save-state", options.save_state,
                      "Write how hot the bench is at the end, for start_from; for one rehearsal");
}

void add_rehearse_choice(CLI::App* command, RehearseOptions& options) {
  command->add_option("--seed", options.seed, "Seed of everything random, a whole number")
      ->capture_default_str()
      ->each([&options](const std::string&) { options.seed_given = true; });
  command->add_option("--repeat", options.repeat, "Rehearse each scenario with so many seeds");
  command->add_option("--seed-from", options.seed_from, "The first seed of --repeat; default: 1");
  command->add_option("-j,--jobs", options.jobs,
                      "So many rehearsals at a time; alone or 0: as many as there are cores");
  command->add_option("--shard", options.shard, "Only the K-th of N parts of them, as K/N");
}

void add_rehearse_master(CLI::App* command, RehearseOptions& options) {
  command->add_flag("--real-master", options.real_master,
                    "Leave the stand-ins out, open the bench's lines as written and run on the wall clock");
  command
      ->add_option("--wait-for-master", options.wait_for_master,
                   "With --real-master: time stands still until the first request, at most so long")
      ->capture_default_str()
      ->each([&options](const std::string&) { options.wait_given = true; });
  command->add_flag("--by-hand", options.by_hand,
                    "On the wall clock: ask for what has 'ask' in the timeline, and take Enter as done");
  command
      ->add_option("--plant-speed", options.plant_speed,
                   "On the wall clock: let zones, walls and sensors run so many times as fast")
      ->check(CLI::Range(0.01, 10000.0));
}

}  // namespace

void add_rehearse(CLI::App& app, RehearseOptions& options) {
  auto* command = app.add_subcommand("rehearse", "Run scenarios and judge them");
  command->add_option("SCENARIO", options.scenarios, "Scenario files")->required();
  add_rehearse_results(command, options);
  add_rehearse_choice(command, options);
  add_rehearse_master(command, options);
  command->footer(
      "Exit status: 0 every verdict passed, 1 one failed, 2 a file cannot be used, 3 the surroundings "
      "failed.\n"
      "Examples:\n"
      "  emberline rehearse scenarios/cable-pulled-latch.yaml\n"
      "  emberline rehearse scenarios/*.yaml -j --junit verdicts.xml --json verdicts.json\n"
      "  emberline rehearse scenarios/*.yaml --shard 2/5 --json shard-2.json\n"
      "  emberline rehearse scenarios/noisy-line.yaml --repeat 50 -j\n"
      "  emberline rehearse scenarios/pulled-by-hand.yaml --real-master --by-hand --report evidence.html\n");
}

void add_merge(CLI::App& app, MergeOptions& options) {
  auto* command = app.add_subcommand("merge", "Make the reports of all shards of a run");
  auto& reports = options.reports;
  command->add_option("SHARD", options.shards, "What `rehearse --json` wrote in each shard")->required();
  command->add_option("--report", reports.report, "Write the verdicts as one HTML page");
  command->add_option("--junit", reports.junit, "Write the verdicts as JUnit XML");
  command->add_option("--json", reports.json, "Write all of it as one JSON");
  command->add_option("--trends", reports.trends, "Write the signals over time as CSV, into this folder");
  command->footer(
      "Exit status: 0 every verdict passed, 1 one failed, 2 a file cannot be used, 3 a report cannot be "
      "written.\n"
      "Examples:\n"
      "  emberline rehearse scenarios/*.yaml --shard 1/2 --json shard-1.json\n"
      "  emberline rehearse scenarios/*.yaml --shard 2/2 --json shard-2.json\n"
      "  emberline merge shard-1.json shard-2.json --report report.html --junit verdicts.xml\n"
      "  emberline merge shard-*.json --json all.json --trends trends\n");
}

}  // namespace emberline::cli

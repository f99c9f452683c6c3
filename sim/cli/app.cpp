#include "sim/cli/app.hpp"

#include <algorithm>
#include <csignal>
#include <exception>
#include <string>
#include <utility>
#include <vector>

#include <CLI/CLI.hpp>
#include <malloc.h>
#include <spdlog/sinks/stdout_color_sinks.h>
#include <spdlog/spdlog.h>

#include "sim/cli/commands.hpp"
#include "sim/cli/completion.hpp"
#include "sim/cli/crash_report.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/import.hpp"
#include "sim/cli/man_page.hpp"
#include "sim/cli/new.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/version_text.hpp"

namespace emberline::cli {
namespace {

void set_up_log() {
  auto log = spdlog::stderr_color_mt("emberline");
  log->set_pattern("%H:%M:%S %^%l%$ %v");
  spdlog::set_default_logger(log);
}

struct Choice {
  bool verbose = false;
  ServeOptions serve;
  RehearseOptions rehearse;
  LessonOptions lesson;
  MergeOptions merge;
  std::vector<std::string> check;
  RegistersOptions registers;
  ImportOptions import_table;
  PollPlanOptions poll_plan;
  MasterOptions master;
  TellOptions tell;
  WatchOptions watch;
  NewOptions make_new;
  CompletionOptions completion;
};

/// `--verbose` comes first: it is read when `--version` asks what to say.
void add_version(CLI::App& app, bool& verbose) {
  auto* more =
      app.add_flag("--verbose", verbose, "With --version: also how it was built and with what, for a report");
  auto* version = app.set_version_flag(
      "--version", [&verbose] { return verbose ? verbose_version_text() : version_text(); },
      "Print the version and exit");
  more->needs(version);
}

void add_serve(CLI::App& app, Choice& choice) {
  auto* command = app.add_subcommand("serve", "Answer masters on the lines of a bench until told to stop");
  command->add_option("BENCH", choice.serve.bench, "The bench file")->required();
  command->add_option("--control", choice.serve.control,
                      "Where `emberline tell` finds this bench (a Unix socket)");
  command->add_option("--ready-file", choice.serve.ready_file,
                      "Write this JSON file once all lines answer; it goes when the bench is stopped");
  auto* capture = command->add_option("--capture", choice.serve.capture,
                                      "Write what stands on the lines to this pcapng file");
  command
      ->add_option("--capture-limit", choice.serve.capture_limit,
                   "At most so many MB of it are kept, the older half beside it, in lehr.old.pcapng for "
                   "lehr.pcapng; 0: all")
      ->needs(capture)
      ->capture_default_str();
  command->add_option("--poll-plan", choice.serve.poll_plans,
                      "Hold the traffic against this poll plan; may be given again");
  add_panel_options(command, choice.serve.panel);
  command->add_option("--seed", choice.serve.seed, "Seed of everything random, a whole number")
      ->capture_default_str();
  command
      ->add_option(
          "--plant-speed", choice.serve.plant_speed,
          "Let zones, walls and sensors run so many times as fast; energy, fuses and the like do not")
      ->check(CLI::Range(0.01, 10000.0));
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

void add_rehearse(CLI::App& app, Choice& choice) {
  auto* command = app.add_subcommand("rehearse", "Run scenarios and judge them");
  command->add_option("SCENARIO", choice.rehearse.scenarios, "Scenario files")->required();
  add_rehearse_results(command, choice.rehearse);
  add_rehearse_choice(command, choice.rehearse);
  add_rehearse_master(command, choice.rehearse);
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

void add_lesson(CLI::App& app, Choice& choice) {
  auto& options = choice.lesson;
  auto* command = app.add_subcommand("lesson", "Walk through a scenario with a class, in the panel");
  command->add_option("SCENARIO", options.scenario, "The scenario file")->required();
  add_panel_options(command, options.panel);
  command->add_flag("--real-master", options.real_master,
                    "Leave the stand-ins out and open the bench's lines as written");
  command->add_flag("--blind", options.blind,
                    "The class sees what the faults do, and not the faults, until the trainer says so");
  command->add_option("--ready-file", options.ready_file,
                      "Write this JSON file once the page can be opened; it goes when the lesson is stopped");
  command->add_option("--seed", options.seed, "Seed of everything random, a whole number")
      ->capture_default_str();
  command
      ->add_option(
          "--plant-speed", options.plant_speed,
          "Let zones, walls and sensors run so many times as fast; energy, fuses and the like do not")
      ->check(CLI::Range(0.01, 10000.0));
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

void add_merge(CLI::App& app, Choice& choice) {
  auto* command = app.add_subcommand("merge", "Make the reports of all shards of a run");
  auto& reports = choice.merge.reports;
  command->add_option("SHARD", choice.merge.shards, "What `rehearse --json` wrote in each shard")->required();
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

void add_check(CLI::App& app, Choice& choice) {
  auto* command = app.add_subcommand(
      "check", "Say what is wrong with benches, register tables, scenarios, poll plans and table mappings");
  command->add_option("FILE", choice.check, "Files of these five kinds")->required();
  command->footer(
      "Exit status: 0 all good, 2 something is wrong.\n"
      "Examples:\n"
      "  emberline check config/benches/annealing-lehr.yaml\n"
      "  emberline check config/registers/*.yaml scenarios/*.yaml\n");
}

void add_registers(CLI::App& app, Choice& choice) {
  auto& options = choice.registers;
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

void add_poll_plan(CLI::App& app, Choice& choice) {
  auto& options = choice.poll_plan;
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

void add_master_options(CLI::App* command, Choice& choice, const char* points) {
  auto* source = command->add_option_group("source", "Where the addresses come from");
  source->add_option("--bench", choice.master.bench, "A bench: LINE and UNIT may be its names");
  source->add_option("--registers", choice.master.registers,
                     "A register table: LINE is a tty or HOST:PORT, UNIT an id");
  source->require_option(1);
  command->add_option("LINE", choice.master.line, "A line of the bench, a tty's path, or HOST:PORT")
      ->required();
  command->add_option("UNIT", choice.master.unit, "A unit or io-block of the bench, or a unit id")
      ->required();
  command->add_option("POINT", choice.master.points, points)->required();
  command->add_option("--serial", choice.master.serial, "Speed and format of a tty")
      ->capture_default_str()
      ->each([&choice](const std::string&) { choice.master.serial_given = true; });
  command->add_option("--timeout", choice.master.timeout, "How long to wait for an answer")
      ->capture_default_str();
}

void add_master(CLI::App& app, Choice& choice) {
  auto* read = app.add_subcommand("read", "Read points as a master");
  add_master_options(read, choice, "Points to read, such as state or load_power");
  read->footer(
      "Exit status: 0 read, 2 refused or not understood, 3 no answer, or busy.\n"
      "Examples:\n"
      "  emberline read --bench config/benches/annealing-lehr.yaml field soak-heater state load_power\n"
      "  emberline read --registers config/registers/short-blocks.yaml /dev/ttyUSB0 1 setpoint --serial "
      "'9600 8N2'\n");
  auto* write = app.add_subcommand("write", "Write points as a master");
  add_master_options(write, choice, "Points and values, such as 'setpoint=50 %'");
  write->add_option("--every", choice.master.every, "Write again and again, such as '1 s', until Ctrl-C");
  write->footer(
      "On a real line this commands real equipment: it may switch real heat.\n"
      "Exit status: 0 written, 2 refused or not understood, 3 no answer, or busy.\n"
      "Examples:\n"
      "  emberline write --bench config/benches/annealing-lehr.yaml ethernet marshalling coil.0=on "
      "coil.8=on\n"
      "  emberline write --bench config/benches/annealing-lehr.yaml field soak-heater 'setpoint=50 %' "
      "--every '1 s'\n");
}

/// Whom `tell` and `watch` speak to.
void add_running_bench(CLI::App* command, std::string& where, std::string& token_file) {
  command
      ->add_option("BENCH-OR-SOCKET-OR-URL", where,
                   "The bench file being served, its control socket, or the address of its panel")
      ->required();
  command->add_option("--token-file", token_file,
                      "File with the panel's token in its first line, where it asks for one");
}

void add_tell(CLI::App& app, Choice& choice) {
  auto* command = app.add_subcommand("tell", "Do to a running bench what a timeline entry does");
  add_running_bench(command, choice.tell.where, choice.tell.token_file);
  command->add_option("ACTION", choice.tell.words,
                      "Such as 'cut field', 'cycle soak-heater.terminal.enable', or 'traffic' for a review");
  command->add_flag("--ping", choice.tell.ping, "Only ask whether it is there; never touches a line");
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

void add_watch(CLI::App& app, Choice& choice) {
  auto* command = app.add_subcommand("watch", "Show what a running bench does, a line a second");
  add_running_bench(command, choice.watch.where, choice.watch.token_file);
  command->add_option("--every", choice.watch.every, "How often, from '100 ms' on")->capture_default_str();
  command->add_flag("--once", choice.watch.once, "One line, and an end");
  command->footer(
      "Goes on until Ctrl-C. It asks the bench's panel, so serve must not have it off.\n"
      "Exit status: 0 stopped as asked, 2 not understood, 3 nobody there, or it ended.\n"
      "Examples:\n"
      "  emberline watch config/benches/annealing-lehr.yaml\n"
      "  emberline watch http://127.0.0.1:8710/ --every '5 s'\n"
      "  emberline watch config/benches/annealing-lehr.yaml --once\n");
}

/// Refuses values that are there and empty, as with a shell variable that is not set: they would count as not
/// given.
void refuse_empty_values(CLI::App& app) {
  const auto not_empty = [](const std::string& value) {
    return value.empty() ? std::string("expected a value, found ''") : std::string();
  };
  for (auto* command : app.get_subcommands({}))
    for (auto* option : command->get_options())
      if (option->get_items_expected_max() > 0 && !option->get_positional()) option->check(not_empty, "");
}

/// " read" when that command was being read, else nothing.
std::string subcommand_of(const CLI::App& app) {
  const auto commands = app.get_subcommands();
  return commands.empty() ? "" : " " + commands.front()->get_name();
}

/// The library's words, but for those that only its own users understand.
std::string said(const std::string& words) {
  if (words.find("[--bench,--registers]") != std::string::npos)
    return "give --bench or --registers, one of the two";
  if (words.find("A subcommand is required") != std::string::npos)
    return "expected a command such as serve or rehearse";
  return words;
}

int dispatch(const CLI::App& app, const Choice& choice) {
  if (app.got_subcommand("serve")) return serve(choice.serve);
  if (app.got_subcommand("rehearse")) return rehearse(choice.rehearse);
  if (app.got_subcommand("lesson")) return lesson(choice.lesson);
  if (app.got_subcommand("merge")) return merge(choice.merge);
  if (app.got_subcommand("check")) return check(choice.check);
  if (app.got_subcommand("registers")) return registers(choice.registers);
  if (app.got_subcommand("import")) return import_table_file(choice.import_table);
  if (app.got_subcommand("poll-plan")) return poll_plan(choice.poll_plan);
  if (app.got_subcommand("read")) return read(choice.master);
  if (app.got_subcommand("write")) return write(choice.master);
  if (app.got_subcommand("new")) return make_new(choice.make_new);
  if (app.got_subcommand("watch")) return watch(choice.watch);
  if (app.got_subcommand("completion")) return completion(app, choice.completion);
  if (app.got_subcommand("man")) return man_page(app);
  return tell(choice.tell);
}

/// The words behind the program's name, with "-j" followed by "0" where no number follows: "-j story.yaml" is
/// "-j" alone and a file.
std::vector<std::string> words_of(int argc, char** argv) {
  std::vector<std::string> words(argv + 1, argv + argc);
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i] != "-j" && words[i] != "--jobs") continue;
    if (i + 1 < words.size() && whole_number(words[i + 1])) continue;
    words.insert(words.begin() + static_cast<std::ptrdiff_t>(i) + 1, "0");
  }
  return words;
}

int parse_and_run(int argc, char** argv) {
  Choice choice;
  CLI::App app("Emberline: a bench of virtual power controllers for people who write PLC programs",
               "emberline");
  add_version(app, choice.verbose);
  app.require_subcommand(1);
  app.failure_message(CLI::FailureMessage::simple);
  app.footer(
      "Examples:\n"
      "  emberline rehearse scenarios/cable-pulled-latch.yaml\n"
      "  emberline serve config/benches/annealing-lehr.yaml\n\n" +
      std::string(cautions()));
  add_serve(app, choice);
  add_rehearse(app, choice);
  add_lesson(app, choice);
  add_merge(app, choice);
  add_check(app, choice);
  add_registers(app, choice);
  add_import(app, choice.import_table);
  add_poll_plan(app, choice);
  add_master(app, choice);
  add_tell(app, choice);
  add_watch(app, choice);
  refuse_empty_values(app);
  add_new(app, choice.make_new);
  add_completion(app, choice.completion);
  add_man_page(app);
  try {
    auto words = words_of(argc, argv);
    std::reverse(words.begin(), words.end());  // as the library wants them
    app.parse(std::move(words));
  } catch (const CLI::Success& wanted) {  // --help, --version
    return app.exit(wanted);
  } catch (const CLI::ParseError& error) {
    complain(said(error.what()) + " (see emberline" + subcommand_of(app) + " --help)");
    return kInputUnusable;
  }
  return dispatch(app, choice);
}

/// Without a fixed bound the C library takes ever larger blocks from its heaps once one has been freed, and a
/// burst of traffic leaves tens of megabytes of holes there for good.
void hand_back_large_blocks() {
#ifdef __GLIBC__
  constexpr int kLarge_B = 256 * 1024;
  (void)::mallopt(M_MMAP_THRESHOLD, kLarge_B);
  (void)::mallopt(M_TRIM_THRESHOLD, 4 * kLarge_B);
#endif
}

}  // namespace

int run(int argc, char** argv) {
  // A file that may grow no further is an error of that write, and not the end.
  std::signal(SIGXFSZ, SIG_IGN);
  report_crashes(argc, argv);
  hand_back_large_blocks();
  try {
    set_up_log();
    const int status = parse_and_run(argc, argv);
    if (output_complete()) return status;
    complain("standard output cannot be written: not all of what was to be said stands there");
    return kSurroundingsFailed;
  } catch (const std::exception&) {
    // Nothing below throws on purpose: this is a mistake of ours or the machine's memory running out.
    complain(
        "stopped by a failure inside emberline; please report the command, the files it was given and what "
        "'emberline --version --verbose' says");
    return kSurroundingsFailed;
  }
}

}  // namespace emberline::cli

#include "sim/cli/app.hpp"

#include <algorithm>
#include <csignal>
#include <exception>
#include <string>
#include <system_error>
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
#include "sim/cli/log_queue.hpp"
#include "sim/cli/man_page.hpp"
#include "sim/cli/new.hpp"
#include "sim/cli/options.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/version_text.hpp"

namespace emberline::cli {
namespace {

void set_up_log() {
  auto log = spdlog::stderr_color_mt("emberline");
  log->set_pattern(kLogPattern);
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
  add_serve(app, choice.serve);
  add_rehearse(app, choice.rehearse);
  add_lesson(app, choice.lesson);
  add_merge(app, choice.merge);
  add_check(app, choice.check);
  add_registers(app, choice.registers);
  add_import(app, choice.import_table);
  add_poll_plan(app, choice.poll_plan);
  add_master(app, choice.master);
  add_tell(app, choice.tell);
  add_watch(app, choice.watch);
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

/// Nothing throws on purpose: this is a mistake of ours or the machine's memory running out.
int failed_inside() {
  complain(
      "stopped by a failure inside emberline; please report the command, the files it was given and what "
      "'emberline --version --verbose' says");
  return kSurroundingsFailed;
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
  } catch (const std::system_error& error) {
    if (error.code() != std::errc::resource_unavailable_try_again) return failed_inside();
    complain("the system lets no further thread begin; is there a limit on processes or memory?");
    return kSurroundingsFailed;
  } catch (const std::exception&) {
    return failed_inside();
  }
}

}  // namespace emberline::cli

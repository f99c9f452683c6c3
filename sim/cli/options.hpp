#pragma once

#include <string>
#include <vector>

#include "sim/cli/commands.hpp"

namespace CLI {  // NOLINT(readability-identifier-naming): of the library
class App;
}

namespace emberline::cli {

/// Each tells the reader of the command line of one command: its options, which go into `options`, and what
/// its --help says. `options` must outlive the reading.
void add_serve(CLI::App& app, ServeOptions& options);
void add_lesson(CLI::App& app, LessonOptions& options);
void add_rehearse(CLI::App& app, RehearseOptions& options);
void add_merge(CLI::App& app, MergeOptions& options);
void add_check(CLI::App& app, std::vector<std::string>& files);
void add_registers(CLI::App& app, RegistersOptions& options);
void add_poll_plan(CLI::App& app, PollPlanOptions& options);
/// Both `read` and `write`.
void add_master(CLI::App& app, MasterOptions& options);
void add_tell(CLI::App& app, TellOptions& options);
void add_watch(CLI::App& app, WatchOptions& options);

}  // namespace emberline::cli

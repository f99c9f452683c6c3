#pragma once

#include <memory>
#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/result.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/polling/poll_plan.hpp"
#include "sim/registers/register_table.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::io {

/// Everything wrong with a file (and the files it names), in the order it stands there.
using Problems = std::vector<Diagnostic>;

/// Reads a bench and the register tables it names (paths relative to the bench's own folder).
[[nodiscard]] Result<bench::BenchSpec, Problems> load_bench(const std::string& path);
/// Reads a register table.
[[nodiscard]] Result<std::shared_ptr<const registers::RegisterTable>, Problems> load_register_table(
    const std::string& path);
/// Reads a scenario and the bench it names (path relative to the scenario's own folder).
[[nodiscard]] Result<rehearsal::ScenarioSpec, Problems> load_scenario(const std::string& path);
/// Reads what a poll plan wants, and the bench it names (path relative to the plan's own folder).
[[nodiscard]] Result<polling::PollWish, Problems> load_poll_wish(const std::string& path);
/// The same, with the plan made of it.
[[nodiscard]] Result<polling::PollPlan, Problems> load_poll_plan(const std::string& path);

/// The kinds of file users write.
enum class FileKind { bench, register_table, scenario, poll_plan, table_mapping };
/// Which kind a file is, by its first distinguishing key (bench:, register_table:, scenario:, poll_plan:,
/// table_mapping:).
[[nodiscard]] Result<FileKind, Problems> kind_of(const std::string& path);

}  // namespace emberline::io

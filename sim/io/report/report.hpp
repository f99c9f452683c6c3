#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/bench/bench_state.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::io {

/// The readable timeline and verdict of one rehearsal, for the terminal. No escape codes unless `colour`.
[[nodiscard]] std::string terminal_report(const rehearsal::Verdict& verdict, bool colour);

/// JUnit XML of all rehearsals of a run: one testsuite a rehearsal, one testcase an expectation, names unique
/// within a suite. Written so that the strict (Ant-derived) schema junit-10.xsd takes it as well. `timestamp`
/// is an ISO 8601 date and time; times of cases are simulated seconds.
[[nodiscard]] std::string junit_xml(const std::vector<rehearsal::Verdict>& verdicts,
                                    std::string_view timestamp);

/// JSON of all rehearsals of a run: simulated time only, no path, host, date or duration; identical for
/// identical runs.
[[nodiscard]] std::string verdicts_json(const std::vector<rehearsal::Verdict>& verdicts);

/// The ready file of a running bench: {"lines":{NAME:{"kind":...,...}},"control":PATH|null,"panel":null}.
[[nodiscard]] std::string ready_json(const std::vector<OpenLine>& lines,
                                     const std::optional<std::string>& control);

/// A saved state of a bench, in the format "emberline-bench-state-1" (config/schema/bench-state.json): JSON,
/// the same to the byte for the same state.
[[nodiscard]] std::string bench_state_json(const bench::BenchState& state);

/// Writes a file whole or not at all (a temporary file beside it, then rename). The error is one line.
[[nodiscard]] Result<Done, std::string> write_whole(const std::string& path, const std::string& content);

}  // namespace emberline::io

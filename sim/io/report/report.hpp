#pragma once

#include <cstdint>
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

/// A line a rehearsal, under a failed one what failed and the command that does it again, and the count.
[[nodiscard]] std::string summary_text(const std::vector<rehearsal::Verdict>& verdicts);

/// One page that needs nothing else: verdicts, plots, what the masters did, traffic, journals, fingerprints
/// and cautions, for screens and for A4. `written_at`: when, as it is to stand there; empty: not said.
[[nodiscard]] std::string html_report(const std::vector<rehearsal::Verdict>& verdicts,
                                      std::string_view written_at);

/// JUnit XML of all rehearsals of a run: one testsuite a rehearsal, one testcase an expectation, names unique
/// within a suite. Written so that the strict (Ant-derived) schema junit-10.xsd takes it as well. `timestamp`
/// is an ISO 8601 date and time; times of cases are simulated seconds.
[[nodiscard]] std::string junit_xml(const std::vector<rehearsal::Verdict>& verdicts,
                                    std::string_view timestamp);

/// Which of the rehearsals of a run a shard holds: of the list of them, counted from 0, those at part - 1,
/// part - 1 + of, part - 1 + 2 of and so on.
struct ShardPlace {
  std::uint64_t part = 1;    ///< from 1
  std::uint64_t of = 1;      ///< how many parts there are
  std::uint64_t listed = 0;  ///< how many rehearsals all parts have
};

/// JSON of all rehearsals of a run, as config/schema/verdicts.json has it: simulated time only, no path,
/// host, date or duration; identical for identical runs. Holds all that the other reports show.
/// `shard`: which of them these are; nothing: all.
[[nodiscard]] std::string verdicts_json(const std::vector<rehearsal::Verdict>& verdicts,
                                        const std::optional<ShardPlace>& shard = std::nullopt);
struct VerdictsFile {
  std::optional<ShardPlace> shard;
  std::vector<rehearsal::Verdict> verdicts;
};
/// What such a text holds. The error is what is wrong with it, on one line.
[[nodiscard]] Result<VerdictsFile, std::string> verdicts_from_json(std::string_view text);

/// The trends of a rehearsal as CSV (RFC 4180), a row for every instant at which one of them has a point.
/// A quantity has two columns, "SIGNAL low UNIT" and "SIGNAL high UNIT": what it went through since the
/// instant that it has a point at before; a state or switch has one, with its words. No value: empty.
[[nodiscard]] std::string trends_csv(const rehearsal::Verdict& verdict);
struct NamedFile {
  std::string name;
  std::string content;
};
/// The trends of all rehearsals: STEM.csv, or STEM-seed-N.csv where a scenario was run more than once.
[[nodiscard]] std::vector<NamedFile> trend_files(const std::vector<rehearsal::Verdict>& verdicts);

/// The ready file of a running bench, in the format "emberline-ready-1":
/// {"format":...,"lines":{NAME:{"kind":...,...}},"control":PATH|null,"panel":URL|null}. Paths are absolute.
[[nodiscard]] std::string ready_json(const std::vector<OpenLine>& lines,
                                     const std::optional<std::string>& control,
                                     const std::optional<std::string>& panel = std::nullopt);

/// A saved state of a bench, in the format "emberline-bench-state-1" (config/schema/bench-state.json): JSON,
/// the same to the byte for the same state.
[[nodiscard]] std::string bench_state_json(const bench::BenchState& state);

/// Writes a file whole or not at all. It gets its name when it is complete, so that whoever is killed while
/// writing leaves nothing; where the file system cannot do that, a file .NAME.emberline-part beside it, which
/// the next one who writes the same file puts away. Links stay, and the file behind them is written; devices
/// and pipes are refused. The error is one line.
[[nodiscard]] Result<Done, std::string> write_whole(const std::string& named, const std::string& content);
/// The file that symbolic links lead to in the end, there or not; `path` itself if it is no link.
[[nodiscard]] std::string behind_links(const std::string& path);
/// Why write_whole() refuses what stands there, in words that follow the path; nothing if it does not: a
/// device, a pipe, or the file that this program's own output goes to ("/dev/stdout" of one that is
/// redirected).
[[nodiscard]] std::optional<std::string> why_not_replaced(const std::string& path);

}  // namespace emberline::io

#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/io/report/report.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::cli {

/// Where the verdicts of a run are written; empty: not there.
struct ReportFiles {
  std::string junit;
  std::string json;
  std::string report;  ///< HTML
  std::string trends;  ///< a folder, made when it is not there
};

/// Writes what is asked for, each file whole or not at all, the rest also when one cannot be written. False
/// after a complaint of one line for each of those. `shard`: which of the rehearsals of a run these are, for
/// the JSON; nothing: all.
[[nodiscard]] bool write_reports(const ReportFiles& files, const std::vector<rehearsal::Verdict>& verdicts,
                                 const std::optional<io::ShardPlace>& shard = std::nullopt);

/// Where a path leads in the end, as far as it is there.
[[nodiscard]] std::filesystem::path led_to(const std::string& path);
/// True if both lead to one file, be it there or not.
[[nodiscard]] bool same_file(const std::string& one, const std::string& other);
/// A bench's file and those its units have their registers from; a file may come more than once.
[[nodiscard]] std::vector<std::string> with_its_tables(const std::string& file,
                                                       const bench::BenchSpec& bench);
/// False, after a complaint, if what is asked for with --out would overwrite one of the files that are read;
/// an empty path is none.
[[nodiscard]] bool spares_inputs(const std::string& out, const std::vector<std::string>& inputs);

/// Prints a text, or writes it to the file after --out, whole or not at all; false after a complaint.
[[nodiscard]] bool give_out(const std::string& out, const std::string& text);

}  // namespace emberline::cli

#pragma once

#include <string>
#include <vector>

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
/// after a complaint of one line for each of those.
[[nodiscard]] bool write_reports(const ReportFiles& files, const std::vector<rehearsal::Verdict>& verdicts);

}  // namespace emberline::cli

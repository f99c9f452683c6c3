#pragma once

#include <string>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::io {

/// The readable timeline and verdict of one rehearsal, for the terminal. No colour codes unless `colour`.
[[nodiscard]] std::string terminal_report(const rehearsal::Verdict& verdict, bool colour);
/// JUnit XML of all rehearsals of a run: one testsuite a rehearsal, one testcase an expectation (shape:
/// junit-10.xsd as bundled with CI servers; names unique within a suite; control characters stripped).
[[nodiscard]] std::string junit_xml(const std::vector<rehearsal::Verdict>& verdicts);
/// JSON of all rehearsals of a run: simulated time only, no path, host, date or duration; identical for
/// identical runs.
[[nodiscard]] std::string json(const std::vector<rehearsal::Verdict>& verdicts);

/// Writes a file whole or not at all (a temporary file beside it, then rename). The error is one line.
[[nodiscard]] Result<Done, std::string> write_whole(const std::string& path, const std::string& content);

}  // namespace emberline::io

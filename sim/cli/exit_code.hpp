#pragma once

namespace emberline::cli {

/// What a command ends with; scripts rely on these.
enum ExitCode : int {
  kAllWell = 0,
  kVerdictFailed = 1,      ///< a rehearsal ran and its verdict is failure; a poll plan does not fit
  kInputUnusable = 2,      ///< a file, flag, name or value cannot be used
  kSurroundingsFailed = 3  ///< a port is taken, no pseudo-terminal, nobody answers
};

}  // namespace emberline::cli

#pragma once

namespace emberline::cli {

/// The whole command line: reads it, runs the command, gives the exit status.
[[nodiscard]] int run(int argc, char** argv);

}  // namespace emberline::cli

#pragma once

#include <cstdint>
#include <memory>
#include <string>

#include "sim/base/result.hpp"
#include "sim/bench/bench.hpp"
#include "sim/io/line/capture.hpp"
#include "sim/io/line/line_capture.hpp"

namespace emberline::cli {

/// What `--capture FILE` does to a run. Without a file it does nothing.
class Capturing {
 public:
  /// Begins to write; the error is one line. `limit_B`: so many bytes at most are kept; 0: no limit. What
  /// cannot be written later is logged at once.
  [[nodiscard]] Result<Done, std::string> begin(const std::string& file, bench::Bench& bench,
                                                std::uint64_t limit_B = 0);
  /// Ends it, before the bench goes; the error is one line.
  [[nodiscard]] Result<Done, std::string> finish();

 private:
  std::unique_ptr<io::Capture> capture_;
  std::unique_ptr<io::LineCapture> tap_;
};

}  // namespace emberline::cli

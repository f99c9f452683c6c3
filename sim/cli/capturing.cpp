#include "sim/cli/capturing.hpp"

#include <utility>

namespace emberline::cli {

Result<Done, std::string> Capturing::begin(const std::string& file, bench::Bench& bench) {
  if (file.empty()) return Done{};
  auto capture = io::Capture::open(file, bench.spec().lines);
  if (!capture) return Failure{"--capture: " + capture.error()};
  capture_ = std::move(capture).value();
  tap_ = std::make_unique<io::LineCapture>(bench, *capture_);
  return Done{};
}

Result<Done, std::string> Capturing::finish() {
  tap_.reset();
  if (!capture_) return Done{};
  const auto finished = capture_->finish();
  capture_.reset();
  if (!finished) return Failure{"--capture: " + finished.error()};
  return Done{};
}

}  // namespace emberline::cli

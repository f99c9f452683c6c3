#include "sim/cli/capturing.hpp"

#include <utility>

#include <spdlog/spdlog.h>

namespace emberline::cli {

Result<Done, std::string> Capturing::begin(const std::string& file, bench::Bench& bench,
                                           std::uint64_t limit_B) {
  if (file.empty()) return Done{};
  auto capture = io::Capture::open(file, bench.spec().lines, limit_B);
  if (!capture) return Failure{"--capture: " + capture.error()};
  capture_ = std::move(capture).value();
  capture_->on_problem([](const std::string& words) { spdlog::error("--capture: {}", words); });
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

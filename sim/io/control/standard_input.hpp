#pragma once

#include <functional>
#include <memory>
#include <string>

#include "sim/io/control/input_lines.hpp"
#include "sim/io/line/wall_bench.hpp"

namespace emberline::io {

/// Takes actions from standard input, line by line. Its end stops nothing.
class StandardInput {
 public:
  StandardInput(WallBench& wall, bench::Bench& bench, std::function<void(const std::string&)> say);
  ~StandardInput();

 private:
  struct Listener;
  std::shared_ptr<Listener> listener_;
  InputLines lines_;
};

}  // namespace emberline::io

#pragma once

#include <functional>
#include <memory>
#include <string>

#include "sim/io/line/wall_bench.hpp"

namespace emberline::io {

/// Takes actions from standard input, line by line. Its end stops nothing.
class StandardInput {
 public:
  StandardInput(WallBench& wall, bench::Bench& bench, std::function<void(const std::string&)> say);
  ~StandardInput();

 private:
  class Reader;
  std::shared_ptr<Reader> reader_;
};

}  // namespace emberline::io

#pragma once

#include <functional>
#include <memory>
#include <string>

#include "sim/io/line/wall_bench.hpp"

namespace emberline::io {

/// Lines of text from standard input, taken as they come, on the bench's thread and without ever keeping it
/// waiting. In the background of a terminal it waits until it is in front again.
class InputLines {
 public:
  struct Takers {
    std::function<void(const std::string&)> line;  ///< without its end
    std::function<void()> too_long;                ///< once for a line that is longer than kLongestLine
    std::function<void()> ended;                   ///< there is no more, or never was any
  };
  /// Nothing is called from here, and nothing any more once it is gone.
  InputLines(WallBench& wall, Takers takers);
  ~InputLines();
  InputLines(const InputLines&) = delete;
  InputLines& operator=(const InputLines&) = delete;

 private:
  class Reader;
  std::shared_ptr<Reader> reader_;
};

}  // namespace emberline::io

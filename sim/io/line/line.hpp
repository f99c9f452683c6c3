#pragma once

#include <memory>
#include <string>

#include "sim/base/result.hpp"
#include "sim/io/line/wall_bench.hpp"

namespace emberline::io {

class Pump;

/// An open line of a wall bench. Everything happens on the bench's thread.
class Line {
 public:
  virtual ~Line() = default;
  /// Where masters find it.
  [[nodiscard]] virtual OpenLine where() const = 0;
  /// Begins to serve; returns at once.
  virtual void start() = 0;
  /// The cable was pulled, or put back.
  virtual void set_cut(bool cut) = 0;
  /// Lets go of everything: connections, sockets, links.
  virtual void close() = 0;
  [[nodiscard]] virtual WallBench::Statistics statistics() const = 0;
};

/// Opens line number `index` of the bench. The error is one line, without the line's name.
[[nodiscard]] Result<std::unique_ptr<Line>, std::string> open_pty_line(Pump& pump, bench::Bench& bench,
                                                                       std::size_t index,
                                                                       const WallBench::Options& options);
[[nodiscard]] Result<std::unique_ptr<Line>, std::string> open_tcp_line(Pump& pump, bench::Bench& bench,
                                                                       std::size_t index,
                                                                       const WallBench::Options& options);

}  // namespace emberline::io

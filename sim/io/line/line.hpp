#pragma once

#include <memory>
#include <string>

#include "sim/base/result.hpp"
#include "sim/bench/line_session.hpp"
#include "sim/io/line/wall_bench.hpp"

namespace emberline::io {

class Pump;

/// What a line is like at the moment, as far as whoever carries its bytes has to know.
struct Conditions {
  bool to_units = true;    ///< requests get through
  bool to_masters = true;  ///< answers get through
  bench::TcpConduct conduct;
  bool operator==(const Conditions&) const = default;
};

/// An open line of a wall bench. Everything happens on the bench's thread.
class Line {
 public:
  virtual ~Line() = default;
  /// Where masters find it.
  [[nodiscard]] virtual OpenLine where() const = 0;
  /// Begins to serve; returns at once.
  virtual void start() = 0;
  /// The conditions have changed: a cable was pulled, or put back, or the line conducts itself differently.
  virtual void follow(const Conditions& now) = 0;
  /// Time, which stood still until the first request came, has begun to run.
  virtual void time_runs() {}
  /// Lets go of everything: connections, sockets, links.
  virtual void close() = 0;
  [[nodiscard]] virtual WallBench::Statistics statistics() const = 0;
};

/// What a session has counted, as statistics.
[[nodiscard]] inline WallBench::Statistics counted(const bench::LineSession::Counters& session) {
  WallBench::Statistics sum;
  sum.requests = session.requests;
  sum.faults = session.faults;
  sum.answers = session.answers;
  sum.late = session.late;
  sum.swallowed = session.swallowed;
  return sum;
}

/// Opens line number `index` of the bench. The error is one line, without the line's name.
[[nodiscard]] Result<std::unique_ptr<Line>, std::string> open_pty_line(Pump& pump, bench::Bench& bench,
                                                                       std::size_t index,
                                                                       const WallBench::Options& options);
[[nodiscard]] Result<std::unique_ptr<Line>, std::string> open_serial_port_line(Pump& pump,
                                                                               bench::Bench& bench,
                                                                               std::size_t index);
[[nodiscard]] Result<std::unique_ptr<Line>, std::string> open_tcp_line(Pump& pump, bench::Bench& bench,
                                                                       std::size_t index,
                                                                       const WallBench::Options& options);

}  // namespace emberline::io

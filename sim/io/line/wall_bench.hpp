#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"

namespace boost::asio {
class io_context;
}

namespace emberline::io {

/// A line that answers: where masters find it.
struct OpenLine {
  std::string name;
  bench::LineKind kind;
  std::string path;        ///< pty: the stable link, or the terminal's own path when no link was asked for;
                           ///< serial-port: the adapter's
  std::string host;        ///< tcp, rtu-tcp
  std::uint16_t port = 0;  ///< tcp, rtu-tcp: the one that was taken
};

/// Runs a bench on the wall clock with its real lines open: one thread, one io_context. Simulated time is the
/// time since open(), or since the first request if it waits for one. Masters may come, go and misbehave;
/// nothing they do ends it.
class WallBench {
 public:
  struct Options {
    /// Rehearsals: TCP on 127.0.0.1 with a port of its own choosing, and for every line that carries RTU
    /// frames a pty without link: a serial port stays untouched, and no stand-in speaks RTU over TCP.
    bool private_lines = false;
    /// Simulated time stands at its start until the first valid request to a unit or io-block comes, over
    /// any line, which is then carried out at the start; if none comes for so long, run() ends. Until then
    /// nothing gets an answer, and nothing that is no such request is noticed. Default: time runs at once.
    std::optional<Duration> wait_for_master = std::nullopt;
  };
  /// `loop` already holds the bench's timers and grid (and a rehearsal's timeline and expectations).
  WallBench(bench::Bench& bench, bench::EventLoop& loop, Options options);
  ~WallBench();

  /// Opens every line. The error is one line: which line, what the system said, what was expected; nothing
  /// stays open then.
  [[nodiscard]] Result<std::vector<OpenLine>, std::string> open();
  /// Serves until stop(). Call after open(), from the thread that owns the bench.
  void run();
  /// Calls `begun` on the bench's thread once, when the master that was waited for has come.
  void on_begun(std::function<void()> begun);
  /// False while the master that is waited for has not come. On the bench's thread, or when run() has ended.
  [[nodiscard]] bool begun() const;
  /// Ends run(); callable from any thread and from signal handling inside the io_context.
  void stop();
  /// Calls `task` on the bench's thread at the current simulated time, after everything due before it has
  /// run. Callable from any thread.
  void post(std::function<void(SimTime)> task);
  /// The simulated time that the wall clock says now; callable from any thread after open(), but while a
  /// master is waited for on the bench's thread only.
  [[nodiscard]] SimTime now() const;
  /// For what else lives on the same thread: control socket, standard input, signals.
  [[nodiscard]] boost::asio::io_context& context();

  /// Counters for the summary at the end.
  struct Statistics {
    std::uint64_t requests = 0;     ///< frames taken up
    std::uint64_t faults = 0;       ///< frames that were none
    std::uint64_t connections = 0;  ///< masters that came (TCP connections, pty openings as far as seen)
    std::uint64_t swallowed = 0;    ///< bytes that came over a pty or a serial port while it was cut
    std::uint64_t answers = 0;      ///< that went out, whole or not
    std::uint64_t late = 0;         ///< of them: after the master had sent a further request
    Statistics& operator+=(const Statistics& other);
  };
  /// On the bench's thread, or when run() has ended.
  [[nodiscard]] Statistics statistics() const;

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::io

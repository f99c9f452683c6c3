#pragma once

#include <chrono>
#include <functional>
#include <optional>

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>

#include "sim/bench/event_loop.hpp"
#include "sim/io/line/readiness.hpp"

namespace emberline::io {

/// Moves an event loop along the wall clock. What comes from outside is handed in between two instants:
/// everything due before it runs first, at its exact simulated time, however late the machine is.
class Pump {
 public:
  Pump(boost::asio::io_context& context, bench::EventLoop& loop);

  /// From now on simulated time goes with the wall clock, beginning where the loop stands. `held`: time
  /// stands still there, and nothing is run, until release().
  void start(bool held = false);
  [[nodiscard]] bool held() const { return held_; }
  /// For how long start() has been, while it is held.
  [[nodiscard]] SimTime waited() const;
  /// Time begins to run: what is handed in next comes at the very instant at which it stood still.
  /// `released` is called once, from the io_context. Who may call: a line that has the first request.
  void release();
  void on_released(std::function<void()> released) { released_ = std::move(released); }
  /// `moved` is called after every instant that was run.
  void on_moved(std::function<void()> moved) { moved_ = std::move(moved); }
  /// Stops waking up by itself.
  void stop();

  [[nodiscard]] SimTime now() const;
  /// The latest instant that was handed in or run.
  [[nodiscard]] SimTime instant() const { return loop_.now(); }
  [[nodiscard]] std::chrono::steady_clock::time_point wall(SimTime at) const {
    return zero_ + at.time_since_epoch();
  }

  /// Runs everything due before now, calls `hand_in(now)`, and finishes the instant.
  template <class HandIn>
  void at_now(HandIn&& hand_in) {
    const SimTime at = begin();
    hand_in(at);
    finish(at);
  }

  [[nodiscard]] boost::asio::io_context& context() { return context_; }
  [[nodiscard]] Readiness& readiness() { return readiness_; }

 private:
  SimTime begin();
  void finish(SimTime at);
  void arm();

  boost::asio::io_context& context_;
  bench::EventLoop& loop_;
  boost::asio::steady_timer timer_;
  Readiness readiness_;
  std::optional<SimTime> armed_;
  std::function<void()> moved_;
  std::function<void()> released_;
  std::chrono::steady_clock::time_point zero_{};
  bool running_ = false;
  bool looked_ahead_ = false;  // `armed_` is the next instant, nothing having been handed in since
  bool held_ = false;
  bool at_the_start_ = false;  // released, and nothing handed in yet
};

}  // namespace emberline::io

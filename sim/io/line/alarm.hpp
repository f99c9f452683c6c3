#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <utility>

#include <boost/asio/steady_timer.hpp>

#include "sim/io/line/pump.hpp"

namespace emberline::io {

/// Rings once at an instant that may be changed until then. Not thread-safe.
class Alarm {
 public:
  explicit Alarm(Pump& pump) : pump_(pump), timer_(pump.context()) {}

  /// From now on it rings at `when` and at no other instant; nothing: not at all. `ring` is called from the
  /// io_context, never from here, and not any more once the alarm has been set anew or is gone.
  template <class Ring>
  void set(std::optional<SimTime> when, Ring&& ring) {
    if (when == *when_) {
      return;
    }
    *when_ = when;
    if (!when) {
      timer_.cancel();
      return;
    }
    timer_.expires_at(pump_.wall(*when));
    timer_.async_wait(
        [set_to = std::weak_ptr(when_), when,
         ring = std::function<void()>(std::forward<Ring>(ring))](const boost::system::error_code& error) {
          // Set anew or gone although it had just run out: then the wait was not cancelled, but it is not
          // the one.
          const auto now_set_to = set_to.lock();
          if (error || !now_set_to || *now_set_to != when) {
            return;
          }
          now_set_to->reset();
          ring();
        });
  }
  void cancel() { set(std::nullopt, nullptr); }

 private:
  using When = std::optional<SimTime>;

  Pump& pump_;
  boost::asio::steady_timer timer_;
  std::shared_ptr<When> when_ = std::make_shared<When>();  // a wait that has run out may outlive the alarm
};

}  // namespace emberline::io

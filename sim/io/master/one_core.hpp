#pragma once

#include <cstddef>
#include <optional>

#include <sched.h>

namespace emberline::io {

/// Keeps the calling thread, and the threads it starts meanwhile, on one core, for as long as this lives. For
/// threads of which only one ever runs: handing over to a neighbour on another core means waking that core,
/// which costs more than the work itself. Where the system does not allow it nothing is changed; results
/// never depend on it.
class OneCore {
 public:
  /// The core it is on at the moment.
  OneCore();
  /// For several such groups side by side, each on a core of its own: the `number`-th of the cores this
  /// process may use, from `first` on and round again. (Each left where it happens to be, two would share one
  /// core as soon as they began on the same.)
  OneCore(int first, std::size_t number);
  ~OneCore();
  OneCore(const OneCore&) = delete;
  OneCore& operator=(const OneCore&) = delete;

 private:
  void stay_on(int core);
  std::optional<cpu_set_t> before_;
};

}  // namespace emberline::io

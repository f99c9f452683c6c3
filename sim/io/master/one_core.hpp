#pragma once

#include <optional>

#include <sched.h>

namespace emberline::io {

/// Keeps the calling thread, and the threads it starts meanwhile, on the core it is on, for as long as this
/// lives. For threads of which only one ever runs: handing over to a neighbour on another core means waking
/// that core, which costs more than the work itself. Where the system does not allow it nothing is changed;
/// results never depend on it.
class OneCore {
 public:
  OneCore();
  ~OneCore();
  OneCore(const OneCore&) = delete;
  OneCore& operator=(const OneCore&) = delete;

 private:
  std::optional<cpu_set_t> before_;
};

}  // namespace emberline::io

#pragma once

#include <array>

#include "tests/bench/child.hpp"

namespace emberline::speed {

/// The three that are compared, each in a process of its own, all on one processor; the program with its unit
/// heating and all sixteen registers alive.
class Servers {
 public:
  Servers();
  struct Server {
    const char* name;
    int port;
    pid_t process;
  };
  [[nodiscard]] const std::array<Server, 3>& all() const { return all_; }  ///< program, plain loop, floor
  void require_alive() const;

 private:
  Served program_;
  Child plain_, floor_;
  std::array<Server, 3> all_;
};

}  // namespace emberline::speed

#pragma once

#include <functional>
#include <memory>
#include <string>

#include "sim/io/control/hands.hpp"
#include "sim/io/control/input_lines.hpp"

namespace emberline::io {

/// Takes actions from standard input, line by line. Its end stops nothing.
class StandardInput {
 public:
  StandardInput(const Hands& hands, std::function<void(const std::string&)> say);
  ~StandardInput();

 private:
  struct Listener;
  std::shared_ptr<Listener> listener_;
  InputLines lines_;
};

}  // namespace emberline::io

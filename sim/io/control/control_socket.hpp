#pragma once

#include <memory>
#include <string>

#include "sim/base/result.hpp"
#include "sim/io/control/hands.hpp"

namespace emberline::io {

/// A Unix socket at which a running bench takes lines of text. Mode 0600, its folder is made 0700.
class ControlSocket {
 public:
  /// Replaces a socket nobody listens at; never a live one, nor anything else. The error is one line.
  [[nodiscard]] static Result<std::unique_ptr<ControlSocket>, std::string> open(const Hands& hands,
                                                                                const std::string& path);
  /// Closes it and its connections, and removes it if it is still ours.
  ~ControlSocket();

 private:
  ControlSocket();
  class Server;
  std::shared_ptr<Server> server_;
};

}  // namespace emberline::io

#pragma once

#include <atomic>
#include <thread>
#include <vector>

#include <modbus.h>

namespace emberline::speed {

/// The yardstick: a slave as libmodbus' own functions make it, one thread that waits in select() over all
/// connections and answers with modbus_receive and modbus_reply from a flat array. Nothing lives behind its
/// registers.
class PlainServer {
 public:
  /// Listens on a port of 127.0.0.1 that the system chooses; ends the program if it cannot.
  PlainServer();
  ~PlainServer();
  PlainServer(const PlainServer&) = delete;
  PlainServer& operator=(const PlainServer&) = delete;
  [[nodiscard]] int port() const { return port_; }

 private:
  void serve();
  void answer(int socket);

  modbus_t* context_;
  modbus_mapping_t* registers_;
  int listener_;
  int port_ = 0;
  std::vector<int> connections_;
  std::atomic<bool> ended_{false};
  std::thread thread_;
};

}  // namespace emberline::speed

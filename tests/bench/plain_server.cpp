#include "tests/bench/plain_server.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <vector>

#include <modbus.h>
#include <sys/select.h>
#include <sys/socket.h>
#include <unistd.h>

#include "tests/bench/load.hpp"

namespace emberline::speed {
namespace {

class PlainServer {
 public:
  explicit PlainServer(int listener)
      : context_(modbus_new_tcp("127.0.0.1", 0)),
        registers_(modbus_mapping_new(0, 0, kRead + 1, 0)),
        listener_(listener) {}
  void serve_once();

 private:
  void answer(int socket);

  modbus_t* context_;
  modbus_mapping_t* registers_;
  int listener_;
  std::vector<int> connections_;
};

void PlainServer::answer(int socket) {
  std::array<std::uint8_t, MODBUS_TCP_MAX_ADU_LENGTH> request{};
  modbus_set_socket(context_, socket);
  const int length = modbus_receive(context_, request.data());
  if (length > 0) {
    modbus_reply(context_, request.data(), length, registers_);
  } else if (length < 0) {
    close(socket);
    connections_.erase(std::find(connections_.begin(), connections_.end(), socket));
  }
}

void PlainServer::serve_once() {
  fd_set readable;
  FD_ZERO(&readable);
  FD_SET(listener_, &readable);
  int highest = listener_;
  for (const int connection : connections_) {
    FD_SET(connection, &readable);
    highest = std::max(highest, connection);
  }
  if (select(highest + 1, &readable, nullptr, nullptr, nullptr) <= 0) return;
  const auto waiting = connections_;  // answer() may take one away
  for (const int connection : waiting)
    if (FD_ISSET(connection, &readable)) answer(connection);
  if (FD_ISSET(listener_, &readable)) {
    const int connection = accept(listener_, nullptr, nullptr);
    if (connection >= 0) connections_.push_back(connection);
  }
}

}  // namespace

void serve_plainly(int listener) {
  PlainServer server(listener);
  while (true) server.serve_once();
}

}  // namespace emberline::speed

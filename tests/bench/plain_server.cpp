#include "tests/bench/plain_server.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>

#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/select.h>
#include <unistd.h>

#include "tests/bench/small_bench.hpp"

namespace emberline::speed {

PlainServer::PlainServer()
    : context_(modbus_new_tcp("127.0.0.1", 0)),
      registers_(modbus_mapping_new(0, 0, kRegisters, 0)),
      listener_(modbus_tcp_listen(context_, 16)) {
  sockaddr_in address{};
  socklen_t length = sizeof address;
  if (listener_ < 0 || getsockname(listener_, reinterpret_cast<sockaddr*>(&address), &length) != 0) {
    std::perror("the plain libmodbus server cannot listen");
    std::exit(3);
  }
  port_ = ntohs(address.sin_port);
  thread_ = std::thread([this] { serve(); });
}

PlainServer::~PlainServer() {
  ended_ = true;
  thread_.join();
  for (const int connection : connections_) close(connection);
  close(listener_);
  modbus_mapping_free(registers_);
  modbus_set_socket(context_, -1);
  modbus_free(context_);
}

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

void PlainServer::serve() {
  while (!ended_) {
    fd_set readable;
    FD_ZERO(&readable);
    FD_SET(listener_, &readable);
    int highest = listener_;
    for (const int connection : connections_) {
      FD_SET(connection, &readable);
      highest = std::max(highest, connection);
    }
    timeval wait{0, 100'000};
    if (select(highest + 1, &readable, nullptr, nullptr, &wait) <= 0) continue;
    const auto waiting = connections_;  // answer() may take one away
    for (const int connection : waiting)
      if (FD_ISSET(connection, &readable)) answer(connection);
    if (FD_ISSET(listener_, &readable)) {
      const int connection = accept(listener_, nullptr, nullptr);
      if (connection >= 0) connections_.push_back(connection);
    }
  }
}

}  // namespace emberline::speed

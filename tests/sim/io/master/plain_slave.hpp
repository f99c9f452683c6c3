#pragma once

#include <array>
#include <atomic>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <string>
#include <thread>
#include <utility>

#include <fcntl.h>
#include <modbus.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <unistd.h>

namespace emberline::io {

/// A slave made of libmodbus's own server, on a TCP port of its own choosing or on a pseudo-terminal: 16
/// values of each kind from address 0, coils and discrete inputs off, registers equal to 100 + address.
class PlainSlave {
 public:
  enum class Kind { tcp, pty };
  explicit PlainSlave(Kind kind) : kind_(kind) {
    mapping_ = modbus_mapping_new(16, 16, 16, 16);
    for (int i = 0; i < 16; ++i) {
      mapping_->tab_registers[i] = static_cast<std::uint16_t>(100 + i);
      mapping_->tab_input_registers[i] = static_cast<std::uint16_t>(200 + i);
    }
    mapping_->tab_input_bits[3] = 1;
    if (kind == Kind::tcp) {
      listen();
    } else {
      open_terminal();
    }
    modbus_set_indication_timeout(context_, 0, 20'000);
    thread_ = std::thread([this] { serve(); });
  }
  ~PlainSlave() { stop(); }
  PlainSlave(const PlainSlave&) = delete;
  PlainSlave& operator=(const PlainSlave&) = delete;

  /// Ends the server and everything it has open.
  void stop() {
    over_ = true;
    if (thread_.joinable()) thread_.join();
    if (mapping_ == nullptr) return;
    if (listener_ >= 0) ::close(listener_);
    if (kind_ == Kind::pty) ::close(terminal_);
    modbus_free(context_);
    modbus_mapping_free(std::exchange(mapping_, nullptr));
  }
  [[nodiscard]] std::uint16_t port() const { return port_; }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] int connections() const { return connections_; }
  [[nodiscard]] int requests() const { return requests_; }  ///< that were taken, answered or not
  [[nodiscard]] std::uint16_t holding(int address) const {
    return seen_.at(static_cast<std::size_t>(address));
  }

  std::atomic<bool> silent{false};    ///< takes requests, answers none
  std::atomic<bool> hangs_up{false};  ///< closes the connection instead of answering

 private:
  void listen() {
    context_ = modbus_new_tcp("127.0.0.1", 0);
    listener_ = modbus_tcp_listen(context_, 1);
    sockaddr_in address{};
    socklen_t size = sizeof address;
    ::getsockname(listener_, reinterpret_cast<sockaddr*>(&address), &size);
    port_ = ntohs(address.sin_port);
  }
  void open_terminal() {
    terminal_ = ::posix_openpt(O_RDWR | O_NOCTTY);
    ::grantpt(terminal_);
    ::unlockpt(terminal_);
    path_ = ::ptsname(terminal_);
    context_ = modbus_new_rtu("slave", 19200, 'E', 8, 1);
    modbus_set_slave(context_, 1);
    modbus_set_socket(context_, terminal_);
  }
  void serve() {
    if (kind_ == Kind::pty) {
      while (!over_) answer_one();
      return;
    }
    while (!over_) {
      pollfd waiting{listener_, POLLIN, 0};
      if (::poll(&waiting, 1, 20) != 1) continue;
      if (modbus_tcp_accept(context_, &listener_) < 0) continue;
      ++connections_;
      while (!over_ && answer_one()) {
      }
      modbus_close(context_);
    }
  }
  bool answer_one() {
    std::array<std::uint8_t, MODBUS_TCP_MAX_ADU_LENGTH> query{};
    const int length = modbus_receive(context_, query.data());
    if (length < 0) return kind_ == Kind::tcp && errno == ETIMEDOUT;
    if (hangs_up) return false;
    if (length == 0) return true;
    const bool answers = !silent;  // whoever has seen the count may change that
    ++requests_;
    if (!answers) return true;
    modbus_reply(context_, query.data(), length, mapping_);
    for (std::size_t i = 0; i < seen_.size(); ++i) seen_[i] = mapping_->tab_registers[i];
    return true;
  }

  Kind kind_;
  modbus_t* context_ = nullptr;
  modbus_mapping_t* mapping_ = nullptr;
  int listener_ = -1;
  int terminal_ = -1;
  std::uint16_t port_ = 0;
  std::string path_;
  std::array<std::atomic<std::uint16_t>, 16> seen_{};
  std::atomic<int> connections_{0};
  std::atomic<int> requests_{0};
  std::atomic<bool> over_{false};
  std::thread thread_;
};

}  // namespace emberline::io

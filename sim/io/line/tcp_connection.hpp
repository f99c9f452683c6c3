#pragma once

#include <array>
#include <memory>
#include <vector>

#include <boost/asio/ip/tcp.hpp>

#include "sim/bench/line_session.hpp"
#include "sim/io/line/pump.hpp"

namespace emberline::io {

/// True if the far end has closed its side, whether or not everything it sent has been read.
[[nodiscard]] bool peer_has_closed(boost::asio::ip::tcp::socket& socket);

/// One master's connection to a TCP line. Keeps itself alive while an operation is under way; never throws.
class TcpConnection : public std::enable_shared_from_this<TcpConnection> {
 public:
  /// Null if the far end is gone already.
  [[nodiscard]] static std::shared_ptr<TcpConnection> make(Pump& pump, bench::Bench& bench, std::size_t line,
                                                           boost::asio::ip::tcp::socket socket);
  void start() { wait_for_bytes(); }
  /// While cut, nothing is read or written. Put back, it is closed unread if the far end has gone meanwhile.
  void set_cut(bool cut);
  void close();
  [[nodiscard]] bool closed() const { return closed_; }
  [[nodiscard]] const bench::LineSession& session() const { return session_; }

 private:
  TcpConnection(Pump& pump, bench::Bench& bench, std::size_t line, boost::asio::ip::tcp::socket socket,
                std::string master);
  void wait_for_bytes();
  void receive();
  void send(modbus::ByteView bytes);
  void wait_to_send();
  std::size_t write_some(modbus::ByteView bytes);

  Pump& pump_;
  bench::Bench& bench_;
  std::size_t line_;
  boost::asio::ip::tcp::socket socket_;
  bench::LineSession session_;
  modbus::Bytes unsent_;  // answers the far end has not taken yet
  std::array<std::uint8_t, 4096> inbox_{};
  bool reading_ = false;
  bool writing_ = false;
  bool ending_ = false;  // the far end sends no more; the rest of the answers goes out
  bool cut_ = false;
  bool closed_ = false;
};

}  // namespace emberline::io

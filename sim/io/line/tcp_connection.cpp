#include "sim/io/line/tcp_connection.hpp"

#include <string>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>

namespace emberline::io {
namespace {

using boost::asio::ip::tcp;
using boost::system::error_code;

// Answers a master may leave unread, beyond what the system buffers for it: about a thousand of the longest.
constexpr std::size_t kMostUnsent = 256 * 1024;

template <int Name>
using TcpNumber = boost::asio::detail::socket_option::integer<IPPROTO_TCP, Name>;

void prepare(tcp::socket& socket) {
  error_code ignored;  // a far end that is gone already shows when it is read
  socket.non_blocking(true, ignored);
  socket.set_option(tcp::no_delay(true), ignored);
  // A PLC that lost its power says no good-bye: after about two minutes its place is free again.
  socket.set_option(tcp::socket::keep_alive(true), ignored);
  socket.set_option(TcpNumber<TCP_KEEPIDLE>(60), ignored);
  socket.set_option(TcpNumber<TCP_KEEPINTVL>(10), ignored);
  socket.set_option(TcpNumber<TCP_KEEPCNT>(6), ignored);
}

std::string name_of(const tcp::endpoint& peer) {
  const std::string address = peer.address().to_string();
  return (peer.address().is_v6() ? "[" + address + "]" : address) + ":" + std::to_string(peer.port());
}

}  // namespace

bool peer_has_closed(tcp::socket& socket) {
  struct pollfd state {
    socket.native_handle(), POLLRDHUP, 0
  };
  return ::poll(&state, 1, 0) > 0 && (state.revents & (POLLRDHUP | POLLHUP | POLLERR)) != 0;
}

std::shared_ptr<TcpConnection> TcpConnection::make(Pump& pump, bench::Bench& bench, std::size_t line,
                                                   tcp::socket socket) {
  error_code error;
  const tcp::endpoint peer = socket.remote_endpoint(error);
  if (error) {
    return nullptr;
  }
  prepare(socket);
  return std::shared_ptr<TcpConnection>(
      new TcpConnection(pump, bench, line, std::move(socket), name_of(peer)));
}

TcpConnection::TcpConnection(Pump& pump, bench::Bench& bench, std::size_t line, tcp::socket socket,
                             std::string master)
    : pump_(pump),
      bench_(bench),
      line_(line),
      socket_(std::move(socket)),
      session_(bench, line, std::move(master), {}) {}

void TcpConnection::set_cut(bool cut) {
  cut_ = cut;
  if (cut || closed_) {
    return;
  }
  if (peer_has_closed(socket_)) {
    close();
    return;
  }
  wait_for_bytes();
  wait_to_send();
}

void TcpConnection::close() {
  closed_ = true;
  error_code ignored;
  socket_.close(ignored);
}

// Waiting for readability takes no bytes: what comes during a cut stays where the far end's system has it.
void TcpConnection::wait_for_bytes() {
  if (closed_ || ending_ || std::exchange(reading_, true)) {
    return;
  }
  socket_.async_wait(tcp::socket::wait_read, [self = shared_from_this()](const error_code& error) {
    self->reading_ = false;
    if (error || self->closed_ || self->cut_) {
      return;
    }
    self->receive();
    if (!self->cut_) {
      self->wait_for_bytes();
    }
  });
}

void TcpConnection::receive() {
  error_code error;
  const std::size_t count = socket_.read_some(boost::asio::buffer(inbox_), error);
  if (error == boost::asio::error::would_block || error == boost::asio::error::interrupted) {
    return;
  }
  if (error) {
    ending_ = true;
    if (error != boost::asio::error::eof || unsent_.empty()) {
      close();
    }
    return;
  }
  std::vector<bench::LineSession::Outgoing> answers;
  pump_.at_now([&](SimTime at) {
    session_.receive(modbus::ByteView(inbox_).first(count), at);
    answers = session_.poll(at);
  });
  for (const auto& answer : answers) {
    if (!closed_) {
      send(answer.bytes);
    }
  }
  if (session_.lost()) {
    close();
  }
}

void TcpConnection::send(modbus::ByteView bytes) {
  if (unsent_.empty() && !cut_) {
    bytes = bytes.subspan(write_some(bytes));
  }
  if (closed_ || bytes.empty()) {
    return;
  }
  if (unsent_.size() + bytes.size() > kMostUnsent) {
    pump_.at_now([this](SimTime at) {
      bench_.journal().note(
          at, bench_.spec().lines[line_].name,
          "a connection was closed: its master sends requests and does not read the answers");
    });
    close();
    return;
  }
  unsent_.insert(unsent_.end(), bytes.begin(), bytes.end());
  wait_to_send();
}

void TcpConnection::wait_to_send() {
  if (closed_ || cut_ || unsent_.empty() || std::exchange(writing_, true)) {
    return;
  }
  socket_.async_wait(tcp::socket::wait_write, [self = shared_from_this()](const error_code& error) {
    self->writing_ = false;
    if (error || self->closed_ || self->cut_) {
      return;
    }
    const auto sent = static_cast<std::ptrdiff_t>(self->write_some(self->unsent_));
    self->unsent_.erase(self->unsent_.begin(), self->unsent_.begin() + sent);
    if (self->ending_ && self->unsent_.empty()) {
      self->close();
    }
    self->wait_to_send();
  });
}

/// One write; what the system does not take at once stays with the caller.
std::size_t TcpConnection::write_some(modbus::ByteView bytes) {
  error_code error;
  const std::size_t count = socket_.write_some(boost::asio::buffer(bytes.data(), bytes.size()), error);
  if (error && error != boost::asio::error::would_block && error != boost::asio::error::interrupted) {
    close();
    return 0;
  }
  return error ? 0 : count;
}

}  // namespace emberline::io

#include "sim/io/line/tcp_connection.hpp"

#include <algorithm>
#include <string>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>

#include "sim/base/duration_text.hpp"
#include "sim/io/line/tcp_listener.hpp"

namespace emberline::io {
namespace {

using bench::SessionEnd;
using boost::asio::ip::tcp;
using boost::system::error_code;

// Answers a master may leave unread, beyond what the system buffers for it: about a thousand of the longest.
constexpr std::size_t kMostUnsent = 256 * 1024;

// A master that sends so many requests at once floods; it is read in small portions, so that the others have
// their turn.
constexpr std::uint64_t kManyAtOnce = 3;
constexpr std::size_t kShortTurn = 36;

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

}  // namespace

bool peer_has_closed(tcp::socket& socket) {
  struct pollfd state {
    socket.native_handle(), POLLRDHUP, 0
  };
  return ::poll(&state, 1, 0) > 0 && (state.revents & (POLLRDHUP | POLLHUP | POLLERR)) != 0;
}

std::shared_ptr<TcpConnection> TcpConnection::make(Pump& pump, bench::Bench& bench, std::size_t line,
                                                   tcp::socket socket, Noted& noted) {
  error_code error;
  const tcp::endpoint peer = socket.remote_endpoint(error);
  if (error) {
    return nullptr;
  }
  prepare(socket);
  return std::shared_ptr<TcpConnection>(
      new TcpConnection(pump, bench, line, std::move(socket), name_of(peer), noted));
}

TcpConnection::TcpConnection(Pump& pump, bench::Bench& bench, std::size_t line, tcp::socket socket,
                             std::string master, Noted& noted)
    : pump_(pump),
      bench_(bench),
      spec_(bench.spec().lines.at(line)),
      noted_(noted),
      master_(std::move(master)),
      socket_(std::move(socket)),
      session_(bench, line, master_, {}),
      alarm_(pump),
      opened_at_(pump.now()),
      heard_at_(opened_at_) {
  if (pump.held()) {
    first_.emplace(bench.spec(), line);
  }
}

void TcpConnection::start(const Passage& passage) {
  passage_ = passage;
  if (passage_.in) {
    wait_for_bytes();
  }
  arm();
}

void TcpConnection::follow(const Passage& passage) {
  const Passage before = std::exchange(passage_, passage);
  if (closed_ || passage == before) {
    return;
  }
  if (passage_.in && !before.in) {
    if (peer_has_closed(socket_)) {
      close(SessionEnd::by_master);
      return;
    }
    heard_at_ = pump_.now();
  }
  take_up({});
  wait_for_bytes();
  wait_to_send();
}

void TcpConnection::close(bench::SessionEnd how) {
  if (std::exchange(closed_, true)) {
    return;
  }
  alarm_.cancel();
  error_code ignored;
  socket_.close(ignored);
  session_.end(pump_.now(), how);
}

void TcpConnection::reset() {
  error_code ignored;
  socket_.set_option(tcp::socket::linger(true, 0), ignored);
  close(SessionEnd::reset_by_bench);
}

// A master that asks faster than its line carries answers is not read any further until some have gone: its
// own system makes it wait.
bool TcpConnection::full() const { return waiting_.size() + session_.held_up() >= kMostWaiting; }

// Within an RTU frame reading goes on, byte by byte: the pause would end the frame.
bool TcpConnection::may_read() const {
  return !closed_ && !ending_ && passage_.in && (!full() || session_.within_frame());
}

// Waiting for readability takes no bytes: what comes during a cut stays where the far end's system has it.
void TcpConnection::wait_for_bytes() {
  if (!may_read() || std::exchange(reading_, true)) {
    return;
  }
  socket_.async_wait(tcp::socket::wait_read, [self = shared_from_this()](const error_code& error) {
    self->reading_ = false;
    if (error || self->closed_ || !self->passage_.in) {
      return;
    }
    self->receive();
    self->wait_for_bytes();
  });
}

void TcpConnection::receive() {
  error_code error;
  const std::size_t most = full() ? 1 : short_turns_ ? kShortTurn : inbox_.size();
  const std::size_t count = socket_.read_some(boost::asio::buffer(inbox_.data(), most), error);
  if (error == boost::asio::error::would_block || error == boost::asio::error::interrupted) {
    return;
  }
  if (error == boost::asio::error::eof) {
    ending_ = true;
    close_if_done();
    return;
  }
  if (error) {
    close(SessionEnd::by_master);
    return;
  }
  const modbus::ByteView bytes = modbus::ByteView(inbox_).first(count);
  if (first_) {
    receive_first(bytes);
    return;
  }
  const auto before = session_.requests();
  take_up(bytes);
  short_turns_ = session_.requests() - before >= kManyAtOnce;
}

/// As long as time stands still, and when it has just begun to run.
void TcpConnection::receive_first(modbus::ByteView bytes) {
  std::optional<modbus::Bytes> heard;
  if (pump_.held()) {
    heard = first_->in(bytes, pump_.waited());
    if (first_->lost()) {
      close(SessionEnd::by_bench);
      return;
    }
    if (!heard) {
      return;
    }
    pump_.release();
  } else {
    heard = first_->unfinished();
    heard->insert(heard->end(), bytes.begin(), bytes.end());
  }
  first_.reset();
  take_up(*heard);
}

/// Hands bytes to the session, if any, and sends what is due.
void TcpConnection::take_up(modbus::ByteView bytes) {
  SimTime now{};
  const auto before = session_.requests();
  pump_.at_now([&](SimTime at) {
    now = at;
    if (!bytes.empty()) {
      session_.receive(bytes, at);
    }
    for (auto& answer : session_.poll(at)) {
      wait_for_its_time(waiting_, std::move(answer));
    }
  });
  if (session_.requests() != before) {
    heard_at_ = now;
  }
  if (session_.lost()) {
    ending_ = true;
  }
  send_due(now);
}

void TcpConnection::send_due(SimTime at) {
  const bool was_full = full();
  while (!closed_ && passage_.out && !waiting_.empty() && waiting_.front().due <= at) {
    const bench::LineSession::Outgoing piece = std::move(waiting_.front());
    waiting_.pop_front();
    if (passage_.lose) {
      continue;
    }
    send(piece.bytes);
    if (!closed_) {
      session_.sent(piece, at);
    }
  }
  close_if_done();
  if (was_full) {
    wait_for_bytes();
  }
  arm();
}

void TcpConnection::send(modbus::ByteView bytes) {
  if (unsent_.empty()) {
    bytes = bytes.subspan(write_some(bytes));
  }
  if (closed_ || bytes.empty()) {
    return;
  }
  if (unsent_.size() + bytes.size() > kMostUnsent) {
    note_once(noted_.deaf,
              "a connection was closed: its master sends requests and does not read the answers");
    close(SessionEnd::by_bench);
    return;
  }
  unsent_.insert(unsent_.end(), bytes.begin(), bytes.end());
  wait_to_send();
}

void TcpConnection::wait_to_send() {
  const bool may = passage_.out && !passage_.lose;
  if (closed_ || !may || unsent_.empty() || std::exchange(writing_, true)) {
    return;
  }
  socket_.async_wait(tcp::socket::wait_write, [self = shared_from_this()](const error_code& error) {
    self->writing_ = false;
    if (error || self->closed_ || !self->passage_.out || self->passage_.lose) {
      return;
    }
    const auto sent = static_cast<std::ptrdiff_t>(self->write_some(self->unsent_));
    self->unsent_.erase(self->unsent_.begin(), self->unsent_.begin() + sent);
    self->close_if_done();
    self->wait_to_send();
  });
}

/// One write; what the system does not take at once stays with the caller.
std::size_t TcpConnection::write_some(modbus::ByteView bytes) {
  error_code error;
  const std::size_t count = socket_.write_some(boost::asio::buffer(bytes.data(), bytes.size()), error);
  if (error && error != boost::asio::error::would_block && error != boost::asio::error::interrupted) {
    close(SessionEnd::by_master);
    return 0;
  }
  return error ? 0 : count;
}

// The far end has said all it wants, or cannot be followed any further: its answers still go out.
void TcpConnection::close_if_done() {
  if (ending_ && waiting_.empty() && unsent_.empty() && !session_.wake_at()) {
    close(session_.lost() ? SessionEnd::by_bench : SessionEnd::by_master);
  }
}

std::optional<SimTime> TcpConnection::too_quiet_at() const {
  if (!spec_.idle_timeout || !passage_.in || ending_ || pump_.held()) {
    return std::nullopt;
  }
  return heard_at_ + *spec_.idle_timeout;
}

void TcpConnection::note_once(bool& noted, std::string sentence) {
  if (!std::exchange(noted, true)) {
    pump_.at_now([&](SimTime at) { bench_.journal().note(at, spec_.name, std::move(sentence)); });
  }
}

void TcpConnection::arm() {
  if (closed_) {
    return;
  }
  auto next = session_.wake_at();
  const auto sooner = [&next](SimTime at) { next = next ? std::min(*next, at) : at; };
  if (!waiting_.empty() && passage_.out) {
    sooner(waiting_.front().due);
  }
  if (const auto quiet = too_quiet_at()) {
    sooner(*quiet);
  }
  alarm_.set(next, [weak = weak_from_this()] {
    const auto self = weak.lock();
    if (!self || self->closed_) {
      return;
    }
    const auto quiet = self->too_quiet_at();
    if (quiet && *quiet <= self->pump_.now()) {
      self->note_once(self->noted_.idle, "a connection was closed: no whole request from " + self->master_ +
                                             " for " + format_duration(*self->spec_.idle_timeout) +
                                             " (idle_timeout; said once)");
      self->close(SessionEnd::by_bench);
      return;
    }
    self->take_up({});
  });
}

}  // namespace emberline::io

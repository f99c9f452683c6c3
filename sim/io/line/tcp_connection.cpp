#include "sim/io/line/tcp_connection.hpp"

#include <algorithm>
#include <cerrno>
#include <string>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>

#include "sim/base/duration_text.hpp"
#include "sim/io/line/tcp_listener.hpp"

namespace emberline::io {
namespace {

using bench::SessionEnd;
using boost::asio::ip::tcp;
using boost::system::error_code;

// Answers a master may leave unread, beyond what the system buffers for it: about a thousand of the longest.
constexpr std::size_t kMostUnsent = 256 * 1024;

/// What a socket says that has nothing to give or no room at the moment.
bool for_now(int error) { return error == EAGAIN || error == EWOULDBLOCK || error == EINTR; }

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

bool peer_has_closed(int socket) {
  struct pollfd state {
    socket, POLLRDHUP, 0
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
  const int number = socket.release(error);
  if (error) {
    return nullptr;
  }
  return std::shared_ptr<TcpConnection>(
      new TcpConnection(pump, bench, line, Descriptor(number), name_of(peer), noted));
}

TcpConnection::TcpConnection(Pump& pump, bench::Bench& bench, std::size_t line, Descriptor socket,
                             std::string master, Noted& noted)
    : pump_(pump),
      bench_(bench),
      spec_(bench.spec().lines.at(line)),
      noted_(noted),
      master_(std::move(master)),
      socket_(std::move(socket)),
      session_(bench, line, master_, {.comes_at_once = true}),
      alarm_(pump),
      opened_at_(pump.now()),
      heard_at_(opened_at_) {
  if (pump.held()) {
    first_.emplace(bench.spec(), line);
  }
}

void TcpConnection::start(const Passage& passage) {
  passage_ = passage;
  place_ = pump_.readiness().add(socket_.number(), shared_from_this());
  watch();
  arm();
}

void TcpConnection::follow(const Passage& passage) {
  const Passage before = std::exchange(passage_, passage);
  if (closed_ || passage == before) {
    return;
  }
  if (passage_.in && !before.in) {
    if (peer_has_closed(socket_.number())) {
      close(SessionEnd::by_master);
      return;
    }
    heard_at_ = pump_.now();
  }
  take_up({});
  send_rest();
  watch();
}

void TcpConnection::close(bench::SessionEnd how) {
  if (std::exchange(closed_, true)) {
    return;
  }
  const auto self = shared_from_this();  // the place may be all that keeps it
  alarm_.cancel();
  if (place_) {
    pump_.readiness().remove(*place_);
  }
  socket_.close();
  session_.end(pump_.now(), how);
}

void TcpConnection::reset() {
  const linger at_once{.l_onoff = 1, .l_linger = 0};
  (void)::setsockopt(socket_.number(), SOL_SOCKET, SO_LINGER, &at_once, sizeof at_once);
  close(SessionEnd::reset_by_bench);
}

// A master that asks faster than its line carries answers is not read any further until some have gone: its
// own system makes it wait.
bool TcpConnection::full() const { return waiting_.size() + session_.held_up() >= kMostAnswersWaiting; }

// Within an RTU frame reading goes on: the pause would end the frame.
bool TcpConnection::may_read() const {
  return !closed_ && !ending_ && passage_.in && (!full() || session_.within_frame());
}

bool TcpConnection::may_write() const { return passage_.out && !passage_.lose; }

// Who is not to be read is not watched: what comes during a cut stays where the far end's system has it.
void TcpConnection::watch() {
  if (closed_ || !place_ || pump_.readiness().watch(*place_, may_read(), may_write() && !unsent_.empty())) {
    return;
  }
  note_once(noted_.unwatched,
            "a connection was closed: the system has no room to watch it: " + system_words(errno));
  close(SessionEnd::by_bench);
}

void TcpConnection::ready(bool to_read, bool to_write) {
  in_round_ = true;
  if (to_write) {
    send_rest();
  }
  if (to_read && may_read()) {
    receive();
  }
}

void TcpConnection::round_over() {
  in_round_ = false;
  if (closed_) {
    return;
  }
  send_due(taken_up_at_);
}

void TcpConnection::receive() {
  const std::size_t most = full() ? 1 : inbox_.size();
  const auto count = ::recv(socket_.number(), inbox_.data(), most, 0);
  if (count == 0) {
    ending_ = true;
    close_if_done();
    return;
  }
  if (count < 0) {
    if (!for_now(errno)) {
      close(SessionEnd::by_master);
    }
    return;
  }
  const modbus::ByteView bytes = modbus::ByteView(inbox_).first(static_cast<std::size_t>(count));
  const bool cut = bytes.size() == most;
  if (first_) {
    receive_first(bytes, cut);
  } else {
    take_up(bytes, cut);
  }
}

// What one read has cut of an RTU frame came with the rest of it: however long this program waits for its
// next turn, that is no silence of the line.
void TcpConnection::finish_frame(SimTime at) {
  std::array<std::uint8_t, 1> byte{};
  for (std::size_t more = 0; more < modbus::kLongestRtuFrame && session_.within_frame(); ++more) {
    if (::recv(socket_.number(), byte.data(), byte.size(), 0) != 1) {
      return;  // nothing has come yet; an end or an error shows again at its turn
    }
    session_.receive(byte, at);
  }
}

/// As long as time stands still, and when it has just begun to run.
void TcpConnection::receive_first(modbus::ByteView bytes, bool cut) {
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
  take_up(*heard, cut);
}

/// Hands bytes to the session, if any, and sends what is due. `cut`: the rest may have come as well.
void TcpConnection::take_up(modbus::ByteView bytes, bool cut) {
  SimTime now{};
  const auto before = session_.requests();
  pump_.at_now([&](SimTime at) {
    now = at;
    if (!bytes.empty()) {
      session_.receive(bytes, at);
    }
    if (cut) {
      finish_frame(at);
    }
    session_.poll(at, ready_);
  });
  for (auto& answer : ready_) {
    wait_for_its_time(waiting_, std::move(answer));
  }
  ready_.clear();
  if (session_.requests() != before) {
    heard_at_ = now;
  }
  if (session_.lost()) {
    ending_ = true;
  }
  taken_up_at_ = now;
  if (!in_round_) {
    send_due(now);
  }
}

/// What is due leaves in one write, however many requests came in one.
void TcpConnection::send_due(SimTime at) {
  std::vector<bench::LineSession::Outgoing>
      leaving;  // a local one: what is said meanwhile may lead back here
  leaving.swap(leaving_);
  while (passage_.out && !waiting_.empty() && waiting_.front().due <= at) {
    if (!passage_.lose) {
      leaving.push_back(std::move(waiting_.front()));
    }
    waiting_.pop_front();
  }
  if (leaving.size() == 1) {
    send(leaving.front().bytes);
  } else if (!leaving.empty()) {
    modbus::Bytes together;
    for (const auto& piece : leaving) {
      together.insert(together.end(), piece.bytes.begin(), piece.bytes.end());
    }
    send(together);
  }
  if (!closed_) {
    for (const auto& piece : leaving) {
      session_.sent(piece, std::max(at, pump_.instant()));  // others of its round have been told of since
    }
  }
  leaving.clear();
  leaving_.swap(leaving);
  close_if_done();
  watch();
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
}

void TcpConnection::send_rest() {
  if (closed_ || !may_write() || unsent_.empty()) {
    return;
  }
  const auto sent = static_cast<std::ptrdiff_t>(write_some(unsent_));
  unsent_.erase(unsent_.begin(), unsent_.begin() + sent);
  close_if_done();
}

/// One write; what the system does not take at once stays with the caller.
std::size_t TcpConnection::write_some(modbus::ByteView bytes) {
  const auto count = ::send(socket_.number(), bytes.data(), bytes.size(), MSG_NOSIGNAL);
  if (count >= 0) {
    return static_cast<std::size_t>(count);
  }
  if (!for_now(errno)) {
    close(SessionEnd::by_master);
  }
  return 0;
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
    self->watch();
  });
}

}  // namespace emberline::io

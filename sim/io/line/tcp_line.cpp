#include <algorithm>
#include <list>
#include <optional>
#include <utility>

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>

#include "sim/bench/line_session.hpp"
#include "sim/io/line/line.hpp"
#include "sim/io/line/pump.hpp"
#include "sim/io/line/tcp_connection.hpp"
#include "sim/io/line/tcp_listener.hpp"

namespace emberline::io {
namespace {

using boost::asio::ip::tcp;
using boost::system::error_code;

constexpr auto kShortOfDescriptors = std::chrono::milliseconds{100};
constexpr auto kPortTaken = std::chrono::seconds{1};
// So many calls are taken before those who are connected have their turn again.
constexpr int kMostCallsAtOnce = 4;

/// Masters that come by TCP, with Modbus TCP or with RTU frames.
class TcpLine final : public Line {
 public:
  TcpLine(Pump& pump, bench::Bench& bench, std::size_t index, tcp::acceptor acceptor)
      : pump_(pump),
        bench_(bench),
        index_(index),
        spec_(bench.spec().lines.at(index)),
        acceptor_(std::move(acceptor)),
        retry_(pump.context()) {
    error_code ignored;
    endpoint_ = acceptor_.local_endpoint(ignored);
  }

  [[nodiscard]] OpenLine where() const override {
    return {spec_.name, spec_.kind, "", endpoint_.address().to_string(), endpoint_.port()};
  }
  void start() override { wait_for_masters(); }
  void follow(const Conditions& now) override;
  void time_runs() override {
    for (const auto& connection : connections_) {
      connection->time_runs();
    }
  }
  void close() override;
  [[nodiscard]] WallBench::Statistics statistics() const override;

 private:
  enum class Accepted : std::uint8_t { all, some, none_for_want };

  [[nodiscard]] bool takes_calls() const { return !closed_ && now_.to_units && acceptor_.is_open(); }
  [[nodiscard]] bool dead(const TcpConnection& connection, const Conditions& when) const;
  [[nodiscard]] TcpConnection::Passage passage_of(const TcpConnection& connection) const;
  void listen_or_not();
  void try_later(std::chrono::milliseconds delay);
  void wait_for_masters();
  Accepted accept_some(bool after_cut);
  void admit(tcp::socket socket);
  [[nodiscard]] std::list<std::shared_ptr<TcpConnection>>::iterator oldest_alive();
  void forget_ended();
  void note_once(bool& noted, std::string sentence);

  Pump& pump_;
  bench::Bench& bench_;
  std::size_t index_;
  const bench::LineSpec& spec_;
  tcp::acceptor acceptor_;  // closed while calls are refused
  tcp::endpoint endpoint_;  // where it listens, or will again
  boost::asio::steady_timer retry_;
  std::list<std::shared_ptr<TcpConnection>> connections_;  // oldest first
  WallBench::Statistics past_;                             // of ended connections
  Conditions now_;
  TcpConnection::Noted noted_;
  bool waiting_ = false;
  bool closed_ = false;
  bool limit_noted_ = false;
  bool taken_noted_ = false;
};

// --- conditions

bool TcpLine::dead(const TcpConnection& connection, const Conditions& when) const {
  const auto& since = when.conduct.half_open_since;
  return since && connection.opened_at() < *since;
}

// A pulled cable: nothing is read any more, and what the far ends send queues there; answers that are ready
// wait. When it is back, it all goes on at once, unless the far end has given up meanwhile. If only the way
// to the masters is broken, units hear and act, and the answers are lost.
TcpConnection::Passage TcpLine::passage_of(const TcpConnection& connection) const {
  if (now_.conduct.silent || dead(connection, now_)) {
    return {.in = false, .out = false, .lose = false};
  }
  const bool pulled = !now_.to_units && !now_.to_masters;
  return {.in = now_.to_units, .out = !pulled, .lose = !now_.to_masters};
}

void TcpLine::follow(const Conditions& now) {
  const Conditions before = std::exchange(now_, now);
  if (closed_) {
    return;
  }
  const bool torn = now_.conduct.resets != before.conduct.resets;
  const auto all = connections_;  // what happens to one may lead back here
  for (const auto& connection : all) {
    if (torn || (dead(*connection, before) && !dead(*connection, now_))) {
      connection->reset();
    } else {
      connection->follow(passage_of(*connection));
    }
  }
  if (now_.to_units && !before.to_units && acceptor_.is_open()) {
    accept_some(true);
  }
  listen_or_not();
}

void TcpLine::listen_or_not() {
  if (now_.conduct.refuses) {
    if (acceptor_.is_open()) {
      accept_some(false);  // who has been let in by the system is there
      error_code ignored;
      acceptor_.close(ignored);
    }
    return;
  }
  if (!acceptor_.is_open()) {
    auto again = listen_at(pump_.context(), endpoint_);
    if (!again) {
      note_once(taken_noted_, again.error() + "; tried again until it is free");
      try_later(kPortTaken);
      return;
    }
    acceptor_ = std::move(again).value();
  }
  wait_for_masters();
}

// --- connections

void TcpLine::try_later(std::chrono::milliseconds delay) {
  retry_.expires_after(delay);
  retry_.async_wait([this](const error_code& cancelled) {
    if (!cancelled && !closed_) {
      listen_or_not();
    }
  });
}

void TcpLine::wait_for_masters() {
  if (!takes_calls() || std::exchange(waiting_, true)) {
    return;
  }
  acceptor_.async_wait(tcp::acceptor::wait_read, [this](const error_code& error) {
    waiting_ = false;
    if (error || !takes_calls()) {
      wait_for_masters();  // does nothing unless it was closed and opened again meanwhile
      return;
    }
    if (accept_some(false) == Accepted::none_for_want) {
      try_later(kShortOfDescriptors);
    } else {
      wait_for_masters();
    }
  });
}

TcpLine::Accepted TcpLine::accept_some(bool after_cut) {
  for (int calls = 0; after_cut || calls < kMostCallsAtOnce; ++calls) {
    error_code error;
    tcp::socket socket(pump_.context());
    acceptor_.accept(socket, error);
    if (error == boost::asio::error::would_block) {
      return Accepted::all;
    }
    if (error == boost::asio::error::connection_aborted || error == boost::asio::error::interrupted) {
      continue;
    }
    if (error) {
      return Accepted::none_for_want;
    }
    if (!after_cut || !peer_has_closed(socket.native_handle())) {
      admit(std::move(socket));
    }
  }
  return Accepted::some;
}

std::list<std::shared_ptr<TcpConnection>>::iterator TcpLine::oldest_alive() {
  return std::find_if(connections_.begin(), connections_.end(),
                      [this](const auto& connection) { return !dead(*connection, now_); });
}

// Connections that are dead without knowing it take no place: the device has forgotten them.
void TcpLine::admit(tcp::socket socket) {
  forget_ended();
  const auto alive = std::count_if(connections_.begin(), connections_.end(),
                                   [this](const auto& connection) { return !dead(*connection, now_); });
  if (alive >= spec_.max_connections) {
    const std::string limit = std::to_string(spec_.max_connections) + " connections at a time";
    if (!spec_.drop_oldest) {
      note_once(limit_noted_, "a further master was refused: it takes " + limit);
      return;  // closes it
    }
    note_once(limit_noted_, "the oldest connection was dropped for a new master: it takes " + limit);
    if (const auto oldest = oldest_alive(); oldest != connections_.end()) {
      (*oldest)->close(bench::SessionEnd::by_bench);
    }
    forget_ended();
  }
  ++past_.connections;
  auto connection = TcpConnection::make(pump_, bench_, index_, std::move(socket), noted_);
  if (connection) {
    connections_.push_back(connection);
    connection->start(passage_of(*connection));
  }
}

void TcpLine::note_once(bool& noted, std::string sentence) {
  if (!std::exchange(noted, true)) {
    pump_.at_now([&](SimTime at) { bench_.journal().note(at, spec_.name, std::move(sentence)); });
  }
}

void TcpLine::forget_ended() {
  std::erase_if(connections_, [this](const auto& connection) {
    if (connection->closed()) {
      past_ += counted(connection->session().counters());
    }
    return connection->closed();
  });
}

void TcpLine::close() {
  closed_ = true;
  error_code ignored;
  acceptor_.close(ignored);
  retry_.cancel();
  for (const auto& connection : connections_) {
    connection->close(bench::SessionEnd::by_bench);
  }
  forget_ended();
}

WallBench::Statistics TcpLine::statistics() const {
  WallBench::Statistics sum = past_;
  for (const auto& connection : connections_) {
    sum += counted(connection->session().counters());
  }
  return sum;
}

}  // namespace

Result<std::unique_ptr<Line>, std::string> open_tcp_line(Pump& pump, bench::Bench& bench, std::size_t index,
                                                         const WallBench::Options& options) {
  const bench::LineSpec& spec = bench.spec().lines.at(index);
  const auto endpoint = find_endpoint(pump.context(), options.private_lines ? "127.0.0.1" : spec.host,
                                      options.private_lines ? std::uint16_t{0} : spec.port);
  if (!endpoint) {
    return Failure{endpoint.error()};
  }
  auto acceptor = listen_at(pump.context(), *endpoint);
  if (!acceptor) {
    return Failure{acceptor.error()};
  }
  return std::unique_ptr<Line>(std::make_unique<TcpLine>(pump, bench, index, std::move(acceptor).value()));
}

}  // namespace emberline::io

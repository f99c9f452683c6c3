#include <algorithm>
#include <list>
#include <optional>
#include <utility>

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <poll.h>

#include "sim/bench/line_session.hpp"
#include "sim/io/line/line.hpp"
#include "sim/io/line/pump.hpp"
#include "sim/io/line/tcp_connection.hpp"

namespace emberline::io {
namespace {

using boost::asio::ip::tcp;
using boost::system::error_code;

constexpr auto kShortOfDescriptors = std::chrono::milliseconds{100};

class TcpLine final : public Line {
 public:
  TcpLine(Pump& pump, bench::Bench& bench, std::size_t index, tcp::acceptor acceptor)
      : pump_(pump),
        bench_(bench),
        index_(index),
        spec_(bench.spec().lines.at(index)),
        acceptor_(std::move(acceptor)),
        retry_(pump.context()) {}

  [[nodiscard]] OpenLine where() const override {
    error_code error;
    return {spec_.name, spec_.kind, "", acceptor_.local_endpoint(error).address().to_string(),
            acceptor_.local_endpoint(error).port()};
  }
  void start() override { wait_for_masters(); }
  void set_cut(bool cut) override;
  void close() override;
  [[nodiscard]] WallBench::Statistics statistics() const override;

 private:
  void wait_for_masters();
  bool accept_all(bool after_cut);
  void admit(tcp::socket socket);
  void forget_ended();
  void note_once(std::string sentence);

  Pump& pump_;
  bench::Bench& bench_;
  std::size_t index_;
  const bench::LineSpec& spec_;
  tcp::acceptor acceptor_;
  boost::asio::steady_timer retry_;
  std::list<std::shared_ptr<TcpConnection>> connections_;  // oldest first
  WallBench::Statistics past_;                             // of ended connections
  bool cut_ = false;
  bool waiting_ = false;
  bool closed_ = false;
  bool limit_noted_ = false;
};

void TcpLine::wait_for_masters() {
  if (std::exchange(waiting_, true)) {
    return;
  }
  acceptor_.async_wait(tcp::acceptor::wait_read, [this](const error_code& error) {
    waiting_ = false;
    if (error || closed_ || cut_) {
      return;
    }
    if (accept_all(false)) {
      wait_for_masters();
      return;
    }
    retry_.expires_after(kShortOfDescriptors);
    retry_.async_wait([this](const error_code& cancelled) {
      if (!cancelled && !closed_ && !cut_) {
        wait_for_masters();
      }
    });
  });
}

/// False if the system is short of something, so that trying again at once would be in vain.
bool TcpLine::accept_all(bool after_cut) {
  for (;;) {
    error_code error;
    tcp::socket socket(pump_.context());
    acceptor_.accept(socket, error);
    if (error == boost::asio::error::would_block) {
      return true;
    }
    if (error == boost::asio::error::connection_aborted || error == boost::asio::error::interrupted) {
      continue;
    }
    if (error) {
      return false;
    }
    if (!after_cut || !peer_has_closed(socket)) {
      admit(std::move(socket));
    }
  }
}

void TcpLine::admit(tcp::socket socket) {
  forget_ended();
  if (connections_.size() >= static_cast<std::size_t>(spec_.max_connections)) {
    const std::string limit = std::to_string(spec_.max_connections) + " connections at a time";
    if (!spec_.drop_oldest || connections_.empty()) {
      note_once("a further master was refused: it takes " + limit);
      return;  // closes it
    }
    note_once("the oldest connection was dropped for a new master: it takes " + limit);
    connections_.front()->close();
    forget_ended();
  }
  ++past_.connections;
  auto connection = TcpConnection::make(pump_, bench_, index_, std::move(socket));
  if (connection) {
    connections_.push_back(connection);
    connection->start();
  }
}

void TcpLine::note_once(std::string sentence) {
  if (!std::exchange(limit_noted_, true)) {
    pump_.at_now([&](SimTime at) { bench_.journal().note(at, spec_.name, std::move(sentence)); });
  }
}

void TcpLine::forget_ended() {
  std::erase_if(connections_, [this](const auto& connection) {
    if (connection->closed()) {
      past_.requests += connection->session().requests();
      past_.faults += connection->session().faults();
    }
    return connection->closed();
  });
}

// A pulled cable: nothing is read any more, and what the far ends send queues there. When it is back, it all
// comes in at once, unless the far end has given up meanwhile.
void TcpLine::set_cut(bool cut) {
  cut_ = cut;
  for (const auto& connection : connections_) {
    connection->set_cut(cut);
  }
  if (!cut && !closed_) {
    accept_all(true);
    wait_for_masters();
  }
}

void TcpLine::close() {
  closed_ = true;
  error_code ignored;
  acceptor_.close(ignored);
  retry_.cancel();
  for (const auto& connection : connections_) {
    connection->close();
  }
  forget_ended();
}

WallBench::Statistics TcpLine::statistics() const {
  WallBench::Statistics sum = past_;
  for (const auto& connection : connections_) {
    sum.requests += connection->session().requests();
    sum.faults += connection->session().faults();
  }
  return sum;
}

Failure<std::string> cannot_listen(const std::string& where, const error_code& error) {
  std::string why = error.message();
  if (error == boost::asio::error::address_in_use) {
    why = "the port is in use; expected a free one, or 0 to have one chosen";
  } else if (error == boost::asio::error::access_denied) {
    why += "; ports below 1024 need a privilege";
  }
  return Failure{"cannot listen on " + where + ": " + why};
}

}  // namespace

Result<std::unique_ptr<Line>, std::string> open_tcp_line(Pump& pump, bench::Bench& bench, std::size_t index,
                                                         const WallBench::Options& options) {
  const bench::LineSpec& spec = bench.spec().lines.at(index);
  const std::string host = options.private_lines ? "127.0.0.1" : spec.host;
  const std::string port = std::to_string(options.private_lines ? 0 : spec.port);
  const std::string where = host + ":" + port;
  error_code error;
  tcp::resolver resolver(pump.context());
  const auto found = resolver.resolve(host, port, tcp::resolver::passive, error);
  if (error || found.empty()) {
    return Failure{"cannot listen on " + where + ": no address of that name; expected one of this machine"};
  }
  const tcp::endpoint endpoint = *found.begin();
  tcp::acceptor acceptor(pump.context());
  acceptor.open(endpoint.protocol(), error);
  if (!error) {
    acceptor.set_option(tcp::acceptor::reuse_address(true), error);
  }
  if (!error) {
    acceptor.bind(endpoint, error);
  }
  if (!error) {
    acceptor.listen(boost::asio::socket_base::max_listen_connections, error);
  }
  if (!error) {
    acceptor.non_blocking(true, error);
  }
  if (error) {
    return cannot_listen(where, error);
  }
  return std::unique_ptr<Line>(std::make_unique<TcpLine>(pump, bench, index, std::move(acceptor)));
}

}  // namespace emberline::io

// How TCP lines fail: refused, silent, half open, reset, and cut one way only.
#include <doctest/doctest.h>

#include "sim/io/line/tcp_listener.hpp"
#include "tests/sim/io/line/delays.hpp"
#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

constexpr std::size_t kEthernet = 1;

Bytes ask(std::uint8_t transaction) { return {0, transaction, 0, 0, 0, 6, 1, 0x03, 0x00, 0x30, 0x00, 0x01}; }
Bytes answer_of(std::uint8_t transaction, std::uint8_t tenths_of_percent = 0) {
  return {0, transaction, 0, 0, 0, 5, 1, 0x03, 0x02, 0x00, tenths_of_percent};
}
Bytes write_setpoint(std::uint8_t transaction, std::uint8_t tenths_of_percent) {
  return {0, transaction, 0, 0, 0, 6, 1, 0x06, 0x00, 0x30, 0x00, tenths_of_percent};
}

class Conducts final : public bench::Impairment {
 public:
  explicit Conducts(bench::TcpConduct conduct) : conduct_(conduct) {}
  void conduct(bench::TcpConduct& conduct) const override {
    conduct.refuses = conduct_.refuses;
    conduct.silent = conduct_.silent;
    conduct.half_open_since = conduct_.half_open_since;
  }

 private:
  bench::TcpConduct conduct_;
};

/// Does something to the bench on its thread, and waits until the line has heard of it: lines hear at the end
/// of the instant, the second question is asked in a further one.
template <class Task>
void act(Running& running, Task task) {
  running.ask([task](bench::Bench& bench, SimTime at) {
    task(bench, at);
    return true;
  });
  running.ask([](bench::Bench&, SimTime) { return true; });
}

/// `conduct` says what the line does, given the instant.
template <class Conduct>
void impair(Running& running, Conduct conduct) {
  act(running, [conduct](bench::Bench& bench, SimTime at) {
    bench.lines().impair(kEthernet, "conduct", std::make_unique<Conducts>(conduct(at)), "impaired", at);
  });
}
void lift(Running& running) {
  act(running, [](bench::Bench& bench, SimTime at) { bench.lines().lift(kEthernet, "conduct", at); });
}

bench::TcpConduct refusing(SimTime /*at*/) {
  bench::TcpConduct conduct;
  conduct.refuses = true;
  return conduct;
}
bench::TcpConduct silent(SimTime /*at*/) {
  bench::TcpConduct conduct;
  conduct.silent = true;
  return conduct;
}
bench::TcpConduct half_open(SimTime at) {
  bench::TcpConduct conduct;
  conduct.half_open_since = at;
  return conduct;
}

/// 0, or the error number of a call to the port.
int call(std::uint16_t port) {
  RawMaster master(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0));
  struct sockaddr_in address {};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  return ::connect(master.descriptor(), reinterpret_cast<sockaddr*>(&address), sizeof(address)) == 0 ? 0
                                                                                                     : errno;
}

/// Waits until the far end has done something to the connection; true if it was a reset.
bool was_reset(const RawMaster& master) {
  std::uint8_t byte = 0;
  const Deadline deadline;
  for (;;) {
    deadline.check();
    const ssize_t count = ::recv(master.descriptor(), &byte, 1, 0);
    if (count >= 0 || errno != EINTR) {
      return count < 0 && errno == ECONNRESET;
    }
  }
}

void is_answered(const RawMaster& master, std::uint8_t transaction) {
  master.send(ask(transaction));
  CHECK(master.receive(11) == answer_of(transaction));
}

}  // namespace

TEST_CASE("while calls are refused, who is there goes on, and the port comes back") {
  Running running(small_bench());
  running.go();
  const std::uint16_t port = running.line("ethernet").port;
  const auto known = RawMaster::tcp(port);
  is_answered(known, 1);
  for (std::uint8_t round = 0; round < 3; ++round) {
    impair(running, refusing);
    CHECK(call(port) == ECONNREFUSED);
    is_answered(known, 2);
    lift(running);
    is_answered(RawMaster::tcp(port), 3);
  }
}

TEST_CASE("a port that another has taken meanwhile is taken again when it is free") {
  Running running(small_bench());
  running.go();
  const std::uint16_t port = running.line("ethernet").port;
  impair(running, refusing);
  {
    bench::BenchSpec spec = small_bench();
    spec.lines[kEthernet].port = port;
    const Running other(std::move(spec));
    lift(running);
    const Deadline deadline;
    while (running.journal("the port is in use").empty()) {
      deadline.check();
      std::this_thread::yield();
    }
  }
  const Deadline deadline;
  while (call(port) != 0) {
    deadline.check();
    std::this_thread::yield();
  }
  is_answered(RawMaster::tcp(port), 1);
  CHECK(running.journal("the port is in use").size() == 1);
}

TEST_CASE("a silent device accepts calls and takes up nothing until it speaks again") {
  Running running(small_bench());
  running.go();
  const std::uint16_t port = running.line("ethernet").port;
  const auto known = RawMaster::tcp(port);
  is_answered(known, 1);
  impair(running, silent);
  const auto late = RawMaster::tcp(port);
  known.send(write_setpoint(2, 20));
  late.send(ask(3));
  running.until([](const auto& seen) { return seen.connections == 2; });
  CHECK(running.statistics().requests == 1);
  CHECK(running.setpoint(0) == 0.0);
  lift(running);
  CHECK(known.receive(12) == write_setpoint(2, 20));
  CHECK(late.receive(11).size() == 11);
}

TEST_CASE("half-open connections stay dead, new ones are served, and in the end the dead are reset") {
  bench::BenchSpec spec = small_bench();
  spec.lines[kEthernet].max_connections = 1;  // the dead take no place
  Running running(std::move(spec));
  running.go();
  const std::uint16_t port = running.line("ethernet").port;
  const auto dead = RawMaster::tcp(port);
  is_answered(dead, 1);
  impair(running, half_open);
  dead.send(write_setpoint(2, 20));
  {
    const auto fresh = RawMaster::tcp(port);
    is_answered(fresh, 3);
  }
  CHECK(running.setpoint(0) == 0.0);
  CHECK(running.statistics().requests == 2);
  lift(running);
  CHECK(was_reset(dead));
  is_answered(RawMaster::tcp(port), 4);
  CHECK(running.setpoint(0) == 0.0);
}

TEST_CASE("a reset tears down all that are connected, and new calls are taken") {
  Running running(small_bench());
  running.go();
  const std::uint16_t port = running.line("ethernet").port;
  const auto first = RawMaster::tcp(port);
  const auto second = RawMaster::tcp(port);
  is_answered(first, 1);
  is_answered(second, 1);
  act(running, [](bench::Bench& bench, SimTime at) { bench.lines().reset_connections(kEthernet, at); });
  CHECK(was_reset(first));
  CHECK(was_reset(second));
  is_answered(RawMaster::tcp(port), 2);
}

TEST_CASE("broken towards the masters, units hear and act and the answers are lost") {
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  is_answered(master, 1);
  act(running,
      [](bench::Bench& bench, SimTime at) { bench.lines().cut(kEthernet, bench::Way::to_masters, at); });
  master.send(write_setpoint(2, 20));
  running.until([](const auto& seen) { return seen.requests == 2; });
  CHECK(running.setpoint(0) == doctest::Approx(0.020));
  act(running, [](bench::Bench& bench, SimTime at) { bench.lines().mend(kEthernet, at); });
  master.send(ask(3));
  CHECK(master.receive(11) == answer_of(3, 20));
}

TEST_CASE("broken towards the units, what is sent waits in the network, and answers under way arrive") {
  bench::BenchSpec spec = small_bench();
  spec.units[0].unit.turnaround = std::chrono::milliseconds{300};
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  master.send(ask(1));
  running.until([](const auto& seen) { return seen.requests == 1; });
  act(running,
      [](bench::Bench& bench, SimTime at) { bench.lines().cut(kEthernet, bench::Way::to_units, at); });
  master.send(write_setpoint(2, 20));
  CHECK(master.receive(11) == answer_of(1));
  CHECK(running.statistics().requests == 1);
  act(running, [](bench::Bench& bench, SimTime at) { bench.lines().mend(kEthernet, at); });
  CHECK(master.receive(12) == write_setpoint(2, 20));
}

TEST_CASE("what is asked after a delay was lifted is answered at once, not behind what the delay put off") {
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  act(running, [](bench::Bench& bench, SimTime at) {
    bench.lines().impair(kEthernet, "conduct", std::make_unique<Delays>(2 * kPatience), "impaired", at);
  });
  master.send(ask(1));
  running.until([](const auto& seen) { return seen.requests == 1; });
  lift(running);
  is_answered(master, 2);
  CHECK(running.statistics().answers == 1);
}

TEST_CASE("who watches a line hears whether its master left, or lost its place, or was torn off") {
  struct Ends final : bench::LineObserver {
    void session_ended(const bench::SessionSeen& session) override { seen.push_back(session.end); }
    std::vector<bench::SessionEnd> seen;
  } ends;
  bench::BenchSpec spec = small_bench();
  spec.lines[kEthernet].max_connections = 1;
  spec.lines[kEthernet].drop_oldest = true;
  Running running(std::move(spec));
  running.bench().lines().add_observer(ends);
  running.go();
  const std::uint16_t port = running.line("ethernet").port;
  const auto ended = [&](std::size_t times) {
    const Deadline deadline;
    while (running.ask([&](bench::Bench&, SimTime) { return ends.seen.size(); }) < times) {
      deadline.check();
      std::this_thread::yield();
    }
  };
  is_answered(RawMaster::tcp(port), 1);
  ended(1);
  const auto first = RawMaster::tcp(port);
  is_answered(first, 2);
  const auto second = RawMaster::tcp(port);
  is_answered(second, 3);
  ended(2);
  impair(running, half_open);
  lift(running);
  CHECK(was_reset(second));
  ended(3);
  running.stop();
  running.bench().lines().remove_observer(ends);
  CHECK(ends.seen == std::vector{bench::SessionEnd::by_master, bench::SessionEnd::by_bench,
                                 bench::SessionEnd::reset_by_bench});
}

TEST_CASE("an endpoint is named so that its port can be told from its address") {
  using boost::asio::ip::make_address;
  CHECK(io::name_of({make_address("192.0.2.7"), 502}) == "192.0.2.7:502");
  CHECK(io::name_of({make_address("2001:db8::7"), 502}) == "[2001:db8::7]:502");  // RFC 3986, 3.2.2
}

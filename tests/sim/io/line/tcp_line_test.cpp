#include <doctest/doctest.h>

#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

constexpr std::size_t kEthernet = 1;

// MBAP header and PDU: MODBUS Messaging on TCP/IP V1.0b, 3.1.3.
Bytes ask_setpoint(std::uint8_t transaction, std::uint8_t unit = 1) {
  return {0, transaction, 0, 0, 0, 6, unit, 0x03, 0x00, 0x30, 0x00, 0x01};
}
Bytes setpoint_answer(std::uint8_t transaction, std::uint8_t tenths_of_percent, std::uint8_t unit = 1) {
  return {0, transaction, 0, 0, 0, 5, unit, 0x03, 0x02, 0x00, tenths_of_percent};
}
Bytes write_setpoint(std::uint8_t transaction, std::uint8_t tenths_of_percent) {
  return {0, transaction, 0, 0, 0, 6, 1, 0x06, 0x00, 0x30, 0x00, tenths_of_percent};
}

Bytes operator+(Bytes first, const Bytes& second) {
  first.insert(first.end(), second.begin(), second.end());
  return first;
}

bench::BenchSpec bench_for(int max_connections, bool drop_oldest) {
  bench::BenchSpec spec = small_bench();
  spec.lines[kEthernet].max_connections = max_connections;
  spec.lines[kEthernet].drop_oldest = drop_oldest;
  return spec;
}

}  // namespace

TEST_CASE("requests on TCP are answered in order, whatever the segments") {
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  SUBCASE("one by one") {
    for (std::uint8_t i = 1; i < 20; ++i) {
      master.send(write_setpoint(i, i));
      CHECK(master.receive(12) == write_setpoint(i, i));
    }
  }
  SUBCASE("three in one segment") {
    master.send(write_setpoint(1, 9) + ask_setpoint(2) + ask_setpoint(3));
    CHECK(master.receive(34) == write_setpoint(1, 9) + setpoint_answer(2, 9) + setpoint_answer(3, 9));
  }
  SUBCASE("byte by byte") {
    for (const std::uint8_t byte : ask_setpoint(7)) {
      master.send({byte});
      std::this_thread::yield();
    }
    CHECK(master.receive(11) == setpoint_answer(7, 0));
  }
}

TEST_CASE("a wrong protocol id gets silence, and the next request is answered") {
  // Messaging on TCP/IP V1.0b, 3.1.3: protocol identifier 0 is MODBUS.
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  Bytes foreign = write_setpoint(1, 50);
  foreign[3] = 1;
  master.send(foreign + ask_setpoint(2));
  CHECK(master.receive(11) == setpoint_answer(2, 0));
  CHECK(running.statistics().faults == 1);
}

TEST_CASE("a length that cannot be closes the connection, and only that one") {
  Running running(small_bench());
  running.go();
  const auto other = RawMaster::tcp(running.line("ethernet").port);
  for (const std::uint8_t length : Bytes{0, 1, 255}) {
    CAPTURE(length);
    const auto master = RawMaster::tcp(running.line("ethernet").port);
    Bytes bad = write_setpoint(1, 50);
    bad[5] = length;
    master.send(ask_setpoint(9) + bad);
    CHECK(master.receive(100) == setpoint_answer(9, 0));
  }
  other.send(ask_setpoint(1));
  CHECK(other.receive(11) == setpoint_answer(1, 0));
  CHECK(running.setpoint(0) == 0.0);
}

TEST_CASE("an id nobody has gets silence, or 0B when the line is set to answer as a gateway") {
  // MODBUS Application Protocol V1.1b3, section 7: 0B, gateway target device failed to respond.
  for (const bool gateway : {false, true}) {
    CAPTURE(gateway);
    bench::BenchSpec spec = small_bench();
    spec.lines[kEthernet].unknown_id_exception_0b = gateway;
    Running running(std::move(spec));
    running.go();
    const auto master = RawMaster::tcp(running.line("ethernet").port);
    master.send(ask_setpoint(1, 99) + ask_setpoint(2));
    if (gateway) {
      CHECK(master.receive(9) == Bytes{0, 1, 0, 0, 0, 3, 99, 0x83, 0x0B});
    }
    CHECK(master.receive(11) == setpoint_answer(2, 0));
  }
}

TEST_CASE("a master that has said all it wants still gets its answers") {
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  master.send(ask_setpoint(1) + ask_setpoint(2));
  REQUIRE(::shutdown(master.descriptor(), SHUT_WR) == 0);
  CHECK(master.receive(100) == setpoint_answer(1, 0) + setpoint_answer(2, 0));
}

TEST_CASE("beyond its connections a line refuses the newest, and says so once") {
  Running running(bench_for(2, false));
  running.go();
  const auto first = RawMaster::tcp(running.line("ethernet").port);
  const auto second = RawMaster::tcp(running.line("ethernet").port);
  for (int i = 0; i < 3; ++i) {
    const auto third = RawMaster::tcp(running.line("ethernet").port);
    CHECK(third.receive(1).empty());
  }
  first.send(ask_setpoint(1));
  CHECK(first.receive(11) == setpoint_answer(1, 0));
  second.send(ask_setpoint(2));
  CHECK(second.receive(11) == setpoint_answer(2, 0));
  CHECK(running.journal("refused").size() == 1);
  CHECK(running.statistics().connections == 2);
}

TEST_CASE("a connection that ended makes room for another") {
  Running running(bench_for(1, false));
  running.go();
  for (std::uint8_t i = 1; i < 20; ++i) {
    auto master = RawMaster::tcp(running.line("ethernet").port);
    master.send(ask_setpoint(i));
    CHECK(master.receive(11) == setpoint_answer(i, 0));
    REQUIRE(::shutdown(master.descriptor(), SHUT_WR) == 0);
    CHECK(master.receive(1).empty());
  }
  CHECK(running.journal("refused").empty());
}

TEST_CASE("with drop-oldest the newest master is let in and the oldest one goes") {
  Running running(bench_for(2, true));
  running.go();
  const auto first = RawMaster::tcp(running.line("ethernet").port);
  const auto second = RawMaster::tcp(running.line("ethernet").port);
  const auto third = RawMaster::tcp(running.line("ethernet").port);
  third.send(ask_setpoint(3));
  CHECK(third.receive(11) == setpoint_answer(3, 0));
  CHECK(first.receive(1).empty());
  second.send(ask_setpoint(2));
  CHECK(second.receive(11) == setpoint_answer(2, 0));
  CHECK(running.journal("dropped").size() == 1);
}

TEST_CASE("what is sent into a pulled cable arrives when it is back") {
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  master.send(ask_setpoint(1));
  CHECK(master.receive(11) == setpoint_answer(1, 0));
  running.set_cut(kEthernet, true);
  master.send(write_setpoint(2, 20));
  master.send(write_setpoint(3, 30));
  const auto late = RawMaster::tcp(running.line("ethernet").port);  // the system takes the call
  late.send(ask_setpoint(4));
  CHECK(running.setpoint(0) == 0.0);
  CHECK(running.statistics().requests == 1);
  running.set_cut(kEthernet, false);
  CHECK(master.receive(24) == write_setpoint(2, 20) + write_setpoint(3, 30));
  CHECK(late.receive(11).size() == 11);
  CHECK(running.setpoint(0) == doctest::Approx(0.030));
}

TEST_CASE("half a request before a cut and half of it after are one request") {
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  const Bytes request = ask_setpoint(1);
  master.send(Bytes(request.begin(), request.begin() + 5));
  running.set_cut(kEthernet, true);
  master.send(Bytes(request.begin() + 5, request.end()));
  running.set_cut(kEthernet, false);
  CHECK(master.receive(11) == setpoint_answer(1, 0));
}

TEST_CASE("what a master sent into a pulled cable is lost when it gave up meanwhile") {
  Running running(small_bench());
  running.go();
  auto known = RawMaster::tcp(running.line("ethernet").port);
  known.send(ask_setpoint(1));
  CHECK(known.receive(11) == setpoint_answer(1, 0));
  running.set_cut(kEthernet, true);
  known.send(write_setpoint(2, 20));
  known.close();
  auto late = RawMaster::tcp(running.line("ethernet").port);
  late.send(write_setpoint(3, 30));
  late.close();
  running.set_cut(kEthernet, false);
  const auto next = RawMaster::tcp(running.line("ethernet").port);
  next.send(ask_setpoint(4));
  CHECK(next.receive(11) == setpoint_answer(4, 0));
  CHECK(running.statistics().requests == 2);
}

TEST_CASE("a master that never reads is closed in the end, and keeps nobody waiting meanwhile") {
  Running running(small_bench());
  running.go();
  const auto deaf = RawMaster::tcp(running.line("ethernet").port);
  const auto other = RawMaster::tcp(running.line("ethernet").port);
  REQUIRE(::fcntl(deaf.descriptor(), F_SETFL, O_NONBLOCK) == 0);
  Bytes many;
  for (int i = 0; i < 1000; ++i) {
    many = many + ask_setpoint(1);
  }
  const auto end = std::chrono::steady_clock::now() + kPatience;
  std::uint8_t transaction = 0;
  std::size_t at = 0;
  while (std::chrono::steady_clock::now() < end) {
    const ssize_t sent = ::send(deaf.descriptor(), many.data() + at, many.size() - at, MSG_NOSIGNAL);
    if (sent < 0 && errno != EAGAIN) {
      break;
    }
    at = sent < 0 ? at : (at + static_cast<std::size_t>(sent)) % many.size();
    ++transaction;
    other.send(ask_setpoint(transaction));
    REQUIRE(other.receive(11) == setpoint_answer(transaction, 0));
  }
  CHECK((errno == EPIPE || errno == ECONNRESET));
  CHECK(running.journal("does not read").size() == 1);
}

TEST_CASE("a port in use is said in one line, and nothing stays open") {
  const Folder folder;
  Running running(small_bench());
  bench::BenchSpec spec = small_bench();
  spec.lines[0].path = folder / "field";
  spec.lines[kEthernet].port = running.line("ethernet").port;
  bench::Bench second(spec);
  bench::EventLoop loop;
  io::WallBench wall(second, loop, {});
  const auto opened = wall.open();
  REQUIRE_FALSE(opened);
  CHECK(opened.error() == "line ethernet: cannot listen on 127.0.0.1:" + std::to_string(spec.lines[1].port) +
                              ": the port is in use; expected a free one, or 0 to have one chosen");
  CHECK_FALSE(std::filesystem::is_symlink(folder / "field"));
}

TEST_CASE("a host that is not of this machine is said in one line") {
  for (const char* host : {"192.0.2.1", "no-such-host.invalid"}) {  // RFC 5737, RFC 2606
    CAPTURE(host);
    bench::BenchSpec spec = small_bench();
    spec.lines[kEthernet].host = host;
    bench::Bench bench(spec);
    bench::EventLoop loop;
    io::WallBench wall(bench, loop, {});
    const auto opened = wall.open();
    REQUIRE_FALSE(opened);
    CHECK(opened.error().find("line ethernet: cannot listen on " + std::string(host)) == 0);
    CHECK(opened.error().find('\n') == std::string::npos);
  }
}

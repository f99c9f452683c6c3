// RTU frames in a TCP connection, as a serial device server carries them to a line.
#include <doctest/doctest.h>

#include "sim/modbus/crc.hpp"
#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;
using namespace std::chrono_literals;

namespace {

constexpr std::size_t kServer = 1;

Bytes ask(std::uint8_t unit) { return modbus::rtu_frame(unit, Bytes{0x03, 0x00, 0x30, 0x00, 0x01}); }
Bytes answer_of(std::uint8_t unit, std::uint8_t tenths_of_percent) {
  return modbus::rtu_frame(unit, Bytes{0x03, 0x02, 0x00, tenths_of_percent});
}
Bytes write_setpoint(std::uint8_t unit, std::uint8_t tenths_of_percent) {
  return modbus::rtu_frame(unit, Bytes{0x06, 0x00, 0x30, 0x00, tenths_of_percent});
}
Bytes operator+(Bytes first, const Bytes& second) {
  first.insert(first.end(), second.begin(), second.end());
  return first;
}

/// North (1) and south (2) behind a device server.
bench::BenchSpec bench_behind_server() {
  bench::BenchSpec spec = small_bench();
  auto& line = spec.lines[kServer];
  line.kind = bench::LineKind::rtu_tcp;
  line.serial = {115200, 8, 'E', 1};
  spec.units[1].unit.lines = {"field", "ethernet"};
  return spec;
}

}  // namespace

TEST_CASE("RTU frames over TCP are answered in order, whatever the segments") {
  bench::BenchSpec spec = bench_behind_server();
  // However long this thread has to wait for a processor between two bytes.
  spec.lines[kServer].frame_silence = std::chrono::seconds{30};
  Running running(std::move(spec));
  CHECK(running.line("ethernet").kind == bench::LineKind::rtu_tcp);
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  SUBCASE("one by one") {
    for (std::uint8_t i = 1; i < 10; ++i) {
      master.send(write_setpoint(1, i));
      CHECK(master.receive(8) == write_setpoint(1, i));
    }
  }
  SUBCASE("three in one segment") {
    master.send(write_setpoint(1, 9) + ask(2) + ask(1));
    CHECK(master.receive(22) == write_setpoint(1, 9) + answer_of(2, 0) + answer_of(1, 9));
  }
  SUBCASE("byte by byte") {
    for (const std::uint8_t byte : ask(2)) {
      master.send({byte});
      std::this_thread::yield();
    }
    CHECK(master.receive(7) == answer_of(2, 0));
  }
}

TEST_CASE("unit id 0 is a broadcast to all behind a device server, and nobody answers it") {
  // MODBUS over Serial Line V1.02, 2.1.
  Running running(bench_behind_server());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  master.send(write_setpoint(0, 44) + ask(2));
  CHECK(master.receive(7) == answer_of(2, 44));
  CHECK(running.setpoint(0) == doctest::Approx(0.044));
}

TEST_CASE("a bad CRC over TCP changes nothing, and silence makes room for the next request") {
  Running running(bench_behind_server());
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  Bytes bad = write_setpoint(1, 99);
  bad.back() ^= 0x01;
  master.send(bad);
  running.until([](const auto& seen) { return seen.faults == 1; });
  master.send(ask(1));
  CHECK(master.receive(7) == answer_of(1, 0));
}

TEST_CASE("two masters behind one device server do not spoil each other's frames") {
  Running running(bench_behind_server());
  running.go();
  const auto first = RawMaster::tcp(running.line("ethernet").port);
  const auto second = RawMaster::tcp(running.line("ethernet").port);
  const Bytes halves = ask(1);
  first.send(Bytes(halves.begin(), halves.begin() + 4));
  second.send(ask(2));
  CHECK(second.receive(7) == answer_of(2, 0));
  CHECK(running.statistics().connections == 2);
}

TEST_CASE("an answer over TCP comes no earlier than the serial line behind it could carry it") {
  for (const bool paced : {true, false}) {
    CAPTURE(paced);
    bench::BenchSpec spec = bench_behind_server();
    spec.lines[kServer].serial.baud = 1200;
    spec.lines[kServer].paced = paced;
    spec.units[0].unit.turnaround = 40ms;
    Running running(std::move(spec));
    running.go();
    const auto master = RawMaster::tcp(running.line("ethernet").port);
    const auto before = std::chrono::steady_clock::now();
    master.send(ask(1) + ask(2));
    CHECK(master.receive(7) == answer_of(1, 0));
    // 40 ms, and on the line 8 characters of 11 bits at 1200 bit/s, a silence of 3.5 and 7 characters (Serial
    // Line V1.02, 2.5.1): 169 ms.
    CHECK(std::chrono::steady_clock::now() - before >= (paced ? 209ms : 40ms));
    CHECK(master.receive(7) == answer_of(2, 0));
    CHECK(std::chrono::steady_clock::now() - before >= (paced ? 378ms : 40ms));
  }
}

TEST_CASE("a unit's turnaround holds on a Modbus TCP line, and answers keep their order") {
  bench::BenchSpec spec = small_bench();
  spec.units[0].unit.turnaround = 60ms;
  spec.io_blocks[0].turnaround = 5ms;
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  const auto before = std::chrono::steady_clock::now();
  master.send(
      Bytes{0, 1, 0, 0, 0, 6, 1, 0x03, 0x00, 0x30, 0x00, 0x01, 0, 2, 0, 0, 0, 6, 20, 0x04, 0, 0, 0, 1});
  CHECK(master.receive(22) == Bytes{0, 1, 0, 0, 0, 5, 1, 3, 2, 0, 0, 0, 2, 0, 0, 0, 5, 20, 4, 2, 0, 0});
  CHECK(std::chrono::steady_clock::now() - before >= 60ms);
}

TEST_CASE("a master that closes its side still gets answers that are not due yet") {
  bench::BenchSpec spec = bench_behind_server();
  spec.units[0].unit.turnaround = 100ms;
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  master.send(ask(1) + ask(2));
  REQUIRE(::shutdown(master.descriptor(), SHUT_WR) == 0);
  CHECK(master.receive(100) == answer_of(1, 0) + answer_of(2, 0));
}

TEST_CASE("requests that come at once are not cut by the time the bench takes to read them") {
  bench::BenchSpec spec = bench_behind_server();
  // Far less than passes between two reads, of which one takes 32 requests and a half.
  spec.lines[kServer].frame_silence = 1us;
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  Bytes many;
  Bytes answers;
  for (int i = 0; i < 100; ++i) {
    many = many + ask(1);
    answers = answers + answer_of(1, 0);
  }
  master.send(many);
  CHECK(master.receive(answers.size()) == answers);
  CHECK(running.statistics().faults == 0);
}

TEST_CASE("a master that asks faster than the line carries is made to wait and loses nothing") {
  bench::BenchSpec spec = bench_behind_server();
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  Bytes many;
  constexpr std::size_t kRequests = 600;
  for (std::size_t i = 0; i < kRequests; ++i) many = many + ask(1);
  master.send(many);
  std::size_t good = 0;
  for (std::size_t i = 0; i < kRequests; ++i) good += master.receive(7) == answer_of(1, 0) ? 1 : 0;
  CHECK(good == kRequests);
  CHECK(running.statistics().answers == kRequests);
}

TEST_CASE("a rehearsal's private line in place of RTU over TCP is a pseudo-terminal") {
  Running running(bench_behind_server(), {.private_lines = true});
  CHECK(running.line("ethernet").kind == bench::LineKind::pty);
  running.go();
  const auto master = RawMaster::pty(running.line("ethernet").path);
  master.send(ask(2));
  CHECK(master.receive(7) == answer_of(2, 0));
}

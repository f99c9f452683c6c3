#include <fstream>

#include <doctest/doctest.h>
#include <sys/ioctl.h>

#include "sim/modbus/crc.hpp"
#include "tests/sim/io/line/delays.hpp"
#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;
namespace fs = std::filesystem;

namespace {

constexpr std::size_t kField = 0;

// Reads `count` holding registers from `first`; the answer has 5 + 2 * count bytes.
Bytes ask_for(std::uint8_t unit, std::uint8_t first, std::uint8_t count) {
  return modbus::rtu_frame(unit, Bytes{0x03, 0x00, first, 0x00, count});
}
Bytes write_setpoint(std::uint8_t unit, std::uint8_t tenths_of_percent) {
  return modbus::rtu_frame(unit, Bytes{0x06, 0x00, 0x30, 0x00, tenths_of_percent});
}
Bytes setpoint_answer(std::uint8_t unit, std::uint8_t tenths_of_percent) {
  return modbus::rtu_frame(unit, Bytes{0x03, 0x02, 0x00, tenths_of_percent});
}

bench::BenchSpec bench_at(int baud) {
  bench::BenchSpec spec = small_bench();
  spec.lines[kField].serial.baud = baud;
  return spec;
}

}  // namespace

TEST_CASE("a request on a pseudo-terminal is answered, several units on one line each for itself") {
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  for (const std::uint8_t unit : Bytes{1, 2}) {
    CAPTURE(unit);
    const auto value = static_cast<std::uint8_t>(10 * unit);
    master.send(write_setpoint(unit, value));
    CHECK(master.receive(8) == write_setpoint(unit, value));
    master.send(ask_for(unit, 0x30, 1));
    CHECK(master.receive(7) == setpoint_answer(unit, value));
  }
  CHECK(running.setpoint(0) == doctest::Approx(0.010));
  CHECK(running.setpoint(1) == doctest::Approx(0.020));
  CHECK(running.statistics().requests == 4);
  CHECK(running.statistics().connections == 1);
}

TEST_CASE("a frame with a bad CRC gets silence and changes nothing") {
  // MODBUS over Serial Line V1.02, 2.5.1.2: a frame with a wrong CRC is discarded, no answer is returned.
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  Bytes bad = write_setpoint(1, 99);
  bad.back() ^= 0x01;
  master.send(bad);
  running.until([](const auto& seen) { return seen.faults == 1; });
  CHECK(running.setpoint(0) == 0.0);
  master.send(ask_for(1, 0x30, 1));
  CHECK(master.receive(7) == setpoint_answer(1, 0));
}

TEST_CASE("a broadcast is carried out by all and answered by nobody") {
  // MODBUS over Serial Line V1.02, 2.1: no response is returned to broadcast requests.
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  master.send(write_setpoint(0, 33));
  master.send(ask_for(2, 0x30, 1));
  CHECK(master.receive(7) == setpoint_answer(2, 33));
  CHECK(running.setpoint(0) == doctest::Approx(0.033));
}

TEST_CASE("a frame that comes byte by byte is one frame") {
  bench::BenchSpec spec = small_bench();
  // However long this thread has to wait for a processor between two bytes.
  spec.lines[kField].frame_silence = std::chrono::seconds{30};
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  for (const std::uint8_t byte : ask_for(1, 0x30, 1)) {
    master.send({byte});
    std::this_thread::yield();
  }
  CHECK(master.receive(7) == setpoint_answer(1, 0));
}

TEST_CASE("with strict timing only silence ends a frame, and it is answered all the same") {
  bench::BenchSpec spec = small_bench();
  spec.lines[kField].strict_timing = true;
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  master.send(ask_for(1, 0x30, 1));
  CHECK(master.receive(7) == setpoint_answer(1, 0));
}

TEST_CASE("an answer comes no earlier than the line's speed lets it") {
  Running running(bench_at(1200));
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  const auto before = std::chrono::steady_clock::now();
  master.send(ask_for(1, 0x30, 1));
  CHECK(master.receive(7) == setpoint_answer(1, 0));
  // 8 characters in, t3.5 and 7 out, of 11 bits at 1200 bit/s (MODBUS over Serial Line V1.02, 2.5.1): 169.583
  // ms.
  CHECK(std::chrono::steady_clock::now() - before >= std::chrono::microseconds{169583});
}

TEST_CASE("masters come and go, each finds the line as if it were the first") {
  Running running(small_bench());
  running.go();
  for (std::uint8_t i = 0; i < 50; ++i) {
    const auto master = RawMaster::pty(running.line("field").path);
    master.send(write_setpoint(1, i));
    CHECK(master.receive(8) == write_setpoint(1, i));
  }
  CHECK(running.statistics().connections == 50);
}

TEST_CASE("a master that asks and goes leaves no answer behind for the next one") {
  // Slow enough that the answer is still due when the next master comes.
  Running running(bench_at(1200));
  running.go();
  std::uint64_t asked = 0;
  for (const bool at_once : {false, true, false, true, true}) {
    CAPTURE(at_once);
    auto gone = RawMaster::pty(running.line("field").path);
    gone.send(ask_for(1, 0x40, 1));
    if (at_once) {
      gone.close();
    }
    ++asked;
    running.until([&](const auto& seen) { return seen.requests == asked; });
    gone.close();
    const auto next = RawMaster::pty(running.line("field").path);
    next.send(ask_for(2, 0x30, 1));
    ++asked;
    CHECK(next.receive(7) == setpoint_answer(2, 0));
  }
}

TEST_CASE("an answer that came and was not read does not meet the next master") {
  Running running(small_bench());
  running.go();
  for (int i = 0; i < 20; ++i) {
    auto gone = RawMaster::pty(running.line("field").path);
    gone.send(ask_for(1, 0x40, 1));
    struct pollfd answer {
      gone.descriptor(), POLLIN, 0
    };
    REQUIRE(::poll(&answer, 1, 60000) == 1);
    gone.close();
    const auto next = RawMaster::pty(running.line("field").path);
    int left = 1;
    const Deadline deadline;
    while (left > 0) {
      deadline.check();
      REQUIRE(::ioctl(next.descriptor(), FIONREAD, &left) == 0);
    }
    next.send(ask_for(2, 0x30, 1));
    CHECK(next.receive(7) == setpoint_answer(2, 0));
  }
}

TEST_CASE("half a frame of a master that went does not spoil the next one's request for long") {
  Running running(small_bench());
  running.go();
  auto gone = RawMaster::pty(running.line("field").path);
  gone.send({0x01, 0x03, 0x00});
  gone.close();
  running.until([](const auto& seen) { return seen.faults == 1; });
  const auto next = RawMaster::pty(running.line("field").path);
  next.send(ask_for(1, 0x30, 1));
  CHECK(next.receive(7) == setpoint_answer(1, 0));
}

TEST_CASE("a write that nobody waits for is carried out") {
  Running running(small_bench());
  running.go();
  auto gone = RawMaster::pty(running.line("field").path);
  gone.send(write_setpoint(1, 77));
  gone.close();
  running.until([](const auto& seen) { return seen.requests == 1; });
  CHECK(running.setpoint(0) == doctest::Approx(0.077));
}

TEST_CASE("a terminal that echoes does not turn our answers into requests") {
  Running running(small_bench());
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  master.set_serial(B19200, false, true);
  for (std::uint8_t i = 1; i <= 3; ++i) {
    master.send(write_setpoint(1, i));
    CHECK(master.receive(8) == write_setpoint(1, i));
  }
  // A fourth request after the answers: an echo would have been taken up before it.
  master.send(ask_for(1, 0x30, 1));
  CHECK(master.receive(7) == setpoint_answer(1, 3));
  CHECK(running.statistics().requests == 4);
  CHECK(running.journal("echoed").size() == 1);
}

TEST_CASE("a cut line swallows what is sent either way, and answers again when it is back") {
  Running running(bench_at(1200));
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  master.send(ask_for(1, 0x40, 2));
  running.until([](const auto& seen) { return seen.requests == 1; });
  running.set_cut(kField, true);  // the answer is on its way: lost
  master.send(write_setpoint(1, 50));
  running.until([](const auto& seen) { return seen.swallowed == 8; });
  running.set_cut(kField, false);
  master.send(ask_for(2, 0x30, 1));
  CHECK(master.receive(7) == setpoint_answer(2, 0));
  CHECK(running.setpoint(0) == 0.0);
}

TEST_CASE("the link stands while the bench runs, and a second bench does not take it") {
  const Folder folder;
  bench::BenchSpec spec = small_bench();
  spec.lines[kField].path = folder / "deep/field";
  {
    Running running(spec);
    running.go();
    CHECK(running.line("field").path == folder / "deep/field");
    const auto master = RawMaster::pty(folder / "deep/field");
    master.send(ask_for(1, 0x30, 1));
    CHECK(master.receive(7) == setpoint_answer(1, 0));

    bench::Bench second(spec);
    bench::EventLoop loop;
    io::WallBench wall(second, loop, {});
    const auto opened = wall.open();
    REQUIRE_FALSE(opened);
    CHECK(opened.error().find("line field: ") == 0);
    CHECK(opened.error().find("another running bench") != std::string::npos);
    CHECK(fs::is_symlink(folder / "deep/field"));
  }
  CHECK_FALSE(fs::is_symlink(folder / "deep/field"));
  // As after a crash: a link that leads nowhere.
  fs::create_symlink("/dev/pts/999999", folder / "deep/field");
  Running again(spec);
  CHECK(fs::read_symlink(folder / "deep/field") != "/dev/pts/999999");
}

TEST_CASE("private lines make no link") {
  const Folder folder;
  bench::BenchSpec spec = small_bench();
  spec.lines[kField].path = folder / "field";
  Running running(spec, {.private_lines = true});
  CHECK_FALSE(fs::exists(folder / "field"));
  CHECK(running.line("field").path.find("/dev/pts/") == 0);
}

TEST_CASE("a master that asks on and on without waiting fills no memory: more than 64 requests are lost") {
  Running running(small_bench());
  running.go();
  running.ask([](bench::Bench& bench, SimTime at) {
    bench.lines().impair(kField, "late", std::make_unique<Delays>(2 * kPatience), "impaired", at);
    return true;
  });
  const auto master = RawMaster::pty(running.line("field").path);
  for (std::uint64_t asked = 1; asked <= 64; ++asked) {
    master.send(ask_for(1, 0x30, 1));
    running.until([&](const auto& seen) { return seen.requests == asked; });
  }
  CHECK(running.journal("asks faster").empty());
  const Deadline deadline;
  while (running.journal("asks faster").empty()) {
    deadline.check();
    master.send(ask_for(1, 0x30, 1));
  }
  CHECK(running.statistics().requests == 64);
}

// A line over a tty, with a pseudo-terminal in place of the adapter. What only real hardware does (parity,
// the time a character takes) is not seen here.
#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <sys/file.h>

#include "sim/io/line/echo_watch.hpp"
#include "sim/io/line/own_echo.hpp"
#include "sim/io/line/serial_device.hpp"
#include "sim/modbus/crc.hpp"
#include "tests/sim/io/line/adapter.hpp"

using namespace emberline;
using namespace emberline::test;
using namespace std::chrono_literals;

namespace {

constexpr std::size_t kWire = 0;

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

/// Units 1 and 2 on a serial port; a pseudo-terminal keeps no parity.
bench::BenchSpec bench_on(const std::string& path) {
  bench::BenchSpec spec = small_bench();
  auto& line = spec.lines[kWire];
  line.kind = bench::LineKind::serial_port;
  line.path = path;
  line.serial = {19200, 8, 'N', 2};
  return spec;
}

std::string refusal_of(bench::BenchSpec spec) {
  bench::Bench bench(std::move(spec));
  bench::EventLoop loop;
  io::WallBench wall(bench, loop, {});
  const auto opened = wall.open();
  REQUIRE_FALSE(opened);
  return opened.error();
}

void wait_for(Running& running, const std::string& sentence, std::size_t times) {
  const Deadline deadline;
  while (running.journal(sentence).size() < times) {
    deadline.check();
    std::this_thread::yield();
  }
}

}  // namespace

TEST_CASE("units answer a PLC at the other end of a serial port, each for itself") {
  const Folder folder;
  const Adapter adapter(folder / "adapter");
  Running running(bench_on(adapter.path()));
  CHECK(running.line("field").kind == bench::LineKind::serial_port);
  CHECK(running.line("field").path == adapter.path());
  running.go();
  const auto plc = adapter.plc();
  for (const std::uint8_t unit : Bytes{1, 2}) {
    const auto value = static_cast<std::uint8_t>(10 * unit);
    plc.send(write_setpoint(unit, value));
    CHECK(plc.receive(8) == write_setpoint(unit, value));
    plc.send(ask(unit));
    CHECK(plc.receive(7) == answer_of(unit, value));
  }
  const auto seen = running.statistics();
  CHECK(seen.requests == 4);
  CHECK(seen.answers == 4);
  CHECK(seen.late == 0);
  CHECK(seen.connections == 1);
}

TEST_CASE("a serial port is raw, at the line's speed and stop bits, and for nobody else meanwhile") {
  const Folder folder;
  const Adapter adapter(folder / "adapter");
  {
    const Running running(bench_on(adapter.path()));
    struct termios now {};
    REQUIRE(::tcgetattr(adapter.far_end(), &now) == 0);
    CHECK(::cfgetospeed(&now) == B19200);
    CHECK((now.c_cflag & CSTOPB) != 0);
    CHECK((now.c_lflag & (ICANON | ECHO | ISIG)) == 0);
    CHECK((now.c_iflag & (ICRNL | IXON | ISTRIP)) == 0);
    CHECK((now.c_oflag & OPOST) == 0);
    CHECK(refusal_of(bench_on(adapter.path())) == "line field: " + adapter.path() +
                                                      " is in use by another program; expected it for us "
                                                      "alone");
  }
  const Running again(bench_on(adapter.path()));  // it was given back
}

TEST_CASE("a path without an adapter is said in one line") {
  const Folder folder;
  CHECK(refusal_of(bench_on(folder / "nothing")) ==
        "line field: " + (folder / "nothing") +
            " is not there; expected the tty of an adapter that is plugged in");
  CHECK(refusal_of(bench_on("/dev/null")) ==
        "line field: /dev/null is no terminal; expected the tty of a serial adapter");
}

TEST_CASE("a driver that cannot turn an RS-485 bus is said in one line, not passed over") {
  // A pseudo-terminal's driver knows no TIOCSRS485.
  const Folder folder;
  const Adapter adapter(folder / "adapter");
  auto spec = bench_on(adapter.path());
  spec.lines[kWire].rs485 = true;
  CHECK(refusal_of(std::move(spec)) == "line field: the driver of " + adapter.path() +
                                           " cannot turn the direction of an RS-485 bus; expected rs485: "
                                           "off, and an adapter that turns it by itself");
}

TEST_CASE("what the driver does not keep is in the journal") {
  const Folder folder;
  const Adapter adapter(folder / "adapter");
  auto spec = bench_on(adapter.path());
  spec.lines[kWire].serial = {9600, 8, 'E', 1};  // a pseudo-terminal has no parity
  Running running(std::move(spec));
  running.go();
  wait_for(running, "does not keep", 1);
  CHECK(running.journal("does not keep").front() == "field: the driver of " + adapter.path() +
                                                        " does not keep parity E, the line is set to 9600 "
                                                        "8E1");
}

TEST_CASE("an adapter unplugged and plugged in again is said once each, and units answer again") {
  const Folder folder;
  Adapter adapter(folder / "adapter");
  Running running(bench_on(adapter.path()));
  running.go();
  for (std::size_t times = 1; times <= 2; ++times) {
    {
      const auto plc = adapter.plc();
      plc.send(write_setpoint(1, 7));
      CHECK(plc.receive(8) == write_setpoint(1, 7));
      plc.send(Bytes{0x01, 0x03, 0x00});  // half a request, of which nothing may be left
      running.until([&](const auto& seen) { return seen.requests >= times; });
    }
    adapter.unplug();
    wait_for(running, "adapter unplugged", times);
    // Neither cut nor impaired: nobody has done anything to the line.
    CHECK(running.ask([](bench::Bench& bench, SimTime) { return bench.lines().state(kWire); }) == 0);
    adapter.plug_in();
    wait_for(running, "adapter plugged in again", times);
    const auto plc = adapter.plc();
    plc.send(ask(1));
    CHECK(plc.receive(7) == answer_of(1, 7));
  }
  CHECK(running.journal("adapter unplugged").size() == 2);
  CHECK(running.journal("adapter plugged in again").size() == 2);
  CHECK(running.statistics().connections >= 3);
}

TEST_CASE("something else at the adapter's path is said once and waited out") {
  const Folder folder;
  Adapter adapter(folder / "adapter");
  Running running(bench_on(adapter.path()));
  running.go();
  adapter.unplug();
  wait_for(running, "adapter unplugged", 1);
  std::filesystem::create_symlink("/dev/null", adapter.path());
  wait_for(running, "is no terminal", 1);
  std::filesystem::remove(adapter.path());
  adapter.plug_in();
  wait_for(running, "adapter plugged in again", 1);
  CHECK(running.journal("is no terminal").size() == 1);
}

TEST_CASE("a real slave's answer on the same wire is dropped, and a request right behind it is answered") {
  const Folder folder;
  const Adapter adapter(folder / "adapter");
  auto spec = bench_on(adapter.path());
  spec.lines[kWire].frame_silence = 60s;  // no silence helps here
  Running running(std::move(spec));
  running.go();
  const auto plc = adapter.plc();
  // Slave 9 is a real one: six bytes of data, an exception, and a write answered by its echo.
  const Bytes long_answer = modbus::rtu_frame(9, Bytes{0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64});
  const Bytes long_ask = modbus::rtu_frame(9, Bytes{0x03, 0x00, 0x6B, 0x00, 0x03});
  for (const Bytes& others : {long_ask + long_answer, long_ask + modbus::rtu_frame(9, Bytes{0x83, 0x02}),
                              write_setpoint(9, 5) + write_setpoint(9, 5)}) {
    plc.send(others + ask(1));
    CHECK(plc.receive(7) == answer_of(1, 0));
  }
  const auto seen = running.statistics();
  CHECK(seen.requests == 6);
  CHECK(seen.faults == 0);
  CHECK(seen.answers == 3);
}

TEST_CASE("an adapter that hears itself does not turn our answers into requests") {
  const Folder folder;
  // What comes back counts as our own for 100 ms. A machine too busy to bring it so soon is asked once more:
  // of an exchange that took less, from a request to the answer to the next, it is certain that it was in
  // time.
  constexpr auto kInTime = 100ms;
  for (int tries = 0; tries < 200; ++tries) {
    const Adapter adapter(folder / ("adapter-" + std::to_string(tries)));
    auto spec = bench_on(adapter.path());
    spec.lines[kWire].hears_itself = true;
    Running running(std::move(spec));
    running.go();
    const auto plc = adapter.plc();
    std::vector<Bytes> answers;
    std::vector<std::chrono::steady_clock::time_point> asked, answered;
    for (std::uint8_t i = 1; i <= 6; ++i) {
      asked.push_back(std::chrono::steady_clock::now());
      plc.send(i <= 5 ? write_setpoint(1, i) : ask(1));
      answers.push_back(plc.receive(i <= 5 ? 8 : 7));
      answered.push_back(std::chrono::steady_clock::now());
      if (i <= 5)
        plc.send(answers.back());  // what the adapter hears of itself: a request, if it were taken for one
    }
    bool in_time = true;
    for (std::size_t i = 0; i + 1 < asked.size(); ++i)
      in_time = in_time && answered[i + 1] - asked[i] < kInTime;
    if (!in_time) continue;
    for (std::uint8_t i = 1; i <= 5; ++i) CHECK(answers[i - 1U] == write_setpoint(1, i));
    CHECK(answers[5] == answer_of(1, 5));
    CHECK(running.statistics().requests == 6);
    return;
  }
  FAIL("no exchange was over in time");
}

TEST_CASE("an adapter that hears itself unsaid does not make units answer themselves without end") {
  const Folder folder;
  const Adapter adapter(folder / "adapter");
  Running running(bench_on(adapter.path()));
  running.go();
  const auto plc = adapter.plc();
  for (std::uint8_t i = 1; i <= 5; ++i) {
    plc.send(write_setpoint(1, i));
    const Bytes answer = plc.receive(8);
    CHECK(answer == write_setpoint(1, i));
    plc.send(answer);
  }
  plc.send(ask(1));
  CHECK(plc.receive(7) == answer_of(1, 5));
  CHECK(running.statistics().requests == 6);
  CHECK(running.journal("hears_itself: on").size() == 1);
}

TEST_CASE("a master that repeats a write is answered each time once it is known that no echo comes first") {
  const Folder folder;
  const Adapter adapter(folder / "adapter");
  Running running(bench_on(adapter.path()));
  running.go();
  const auto plc = adapter.plc();
  plc.send(ask(1));
  CHECK(plc.receive(7) == answer_of(1, 0));
  for (int times = 0; times < 20; ++times) {
    plc.send(write_setpoint(1, 5));
    CHECK(plc.receive(8) == write_setpoint(1, 5));
  }
  CHECK(running.journal("hears_itself").empty());
}

TEST_CASE("an answer that comes back in parts is thrown away, and only that") {
  const SimTime now = SimTime{} + 1s;
  const Bytes write = write_setpoint(1, 5);
  const Bytes value = answer_of(1, 5);
  io::EchoWatch watch;
  watch.expect(write, now + 10ms);
  CHECK(watch.heard(Bytes(write.begin(), write.begin() + 3), now).left.empty());
  CHECK(watch.gives_up_at() > now + 10ms);
  const auto rest = watch.heard(Bytes(write.begin() + 3, write.end()) + ask(1), now);
  CHECK(rest.came_back);
  CHECK(rest.left == ask(1));
  CHECK_FALSE(watch.gives_up_at());
  SUBCASE("what began like it comes late or whole, but comes") {
    watch.expect(write, now + 10ms);
    CHECK(watch.heard(Bytes{0x01}, now).left.empty());
    CHECK(watch.given_up(now + 10ms).empty());
    CHECK(watch.given_up(now + 11ms) == Bytes{0x01});
    watch.expect(write, now + 20ms);
    CHECK(watch.heard(Bytes{0x01}, now + 12ms).left.empty());
    const Bytes asked = ask(1);
    CHECK(watch.heard(Bytes(asked.begin() + 1, asked.end()), now + 12ms).left == asked);
  }
  SUBCASE("a master's own repetition passes once a good request came first, a read's answer never does") {
    watch.expect(value, now + 10ms);
    CHECK(watch.heard(write, now).left == write);
    watch.good_request();
    watch.expect(write, now + 10ms);
    CHECK(watch.heard(write, now).left == write);
    watch.expect(value, now + 10ms);
    CHECK(watch.heard(value, now).left.empty());  // it does hear itself: only now and then, as it seems
    watch.expect(write, now + 10ms);
    CHECK(watch.heard(write, now).left.empty());
  }
}

TEST_CASE("only what was said by ourselves, and not long ago, is thrown away as echo") {
  const SimTime now = SimTime{} + 1s;
  io::OwnEcho echo;
  CHECK(echo.left_of(Bytes{1, 2}, now) == Bytes{1, 2});
  echo.expect(Bytes{1, 2, 3}, now + 10ms);
  CHECK(echo.left_of(Bytes{1, 2}, now).empty());
  CHECK(echo.left_of(Bytes{3, 4, 5}, now) == Bytes{4, 5});
  echo.expect(Bytes{1, 2, 3}, now + 10ms);
  CHECK(echo.left_of(Bytes{1, 9}, now) == Bytes{9});  // not our echo after all
  CHECK(echo.left_of(Bytes{2, 3}, now) == Bytes{2, 3});
  echo.expect(Bytes{1, 2, 3}, now + 10ms);
  CHECK(echo.left_of(Bytes{1, 2, 3}, now + 11ms) == Bytes{1, 2, 3});
}

TEST_CASE("a serial port whose cable is cut swallows both ways; broken one way, units hear and act") {
  const Folder folder;
  const Adapter adapter(folder / "adapter");
  Running running(bench_on(adapter.path()));
  running.go();
  const auto plc = adapter.plc();
  const auto cut = [&](bench::Way way) {
    running.ask([=](bench::Bench& bench, SimTime at) {
      bench.lines().cut(kWire, way, at);
      return true;
    });
  };
  const auto mend = [&] {
    running.ask([](bench::Bench& bench, SimTime at) {
      bench.lines().mend(kWire, at);
      return true;
    });
  };
  cut(bench::Way::both);
  plc.send(write_setpoint(1, 9));
  running.until([](const auto& seen) { return seen.swallowed == 8; });
  mend();
  cut(bench::Way::to_masters);
  plc.send(write_setpoint(1, 8));
  running.until([](const auto& seen) { return seen.requests == 1; });
  mend();
  plc.send(ask(1));
  CHECK(plc.receive(7) == answer_of(1, 8));
  CHECK(running.statistics().answers == 1);
}

TEST_CASE("a rehearsal's private lines leave the serial port alone") {
  const Folder folder;
  const Running running(bench_on(folder / "nothing"), {.private_lines = true});
  CHECK(running.line("field").kind == bench::LineKind::pty);
  CHECK(running.line("field").path.find("/dev/pts/") == 0);
}

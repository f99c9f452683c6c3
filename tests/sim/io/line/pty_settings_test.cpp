// What becomes of a master that has set up its port otherwise than the line is. The kernel shows the speed
// and the stop bits that the other end of a pseudo-terminal has set, never its parity (seen on Linux 6.1).
#include <doctest/doctest.h>

#include "sim/modbus/crc.hpp"
#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

Bytes ask() { return modbus::rtu_frame(1, Bytes{0x03, 0x00, 0x30, 0x00, 0x01}); }
Bytes write_setpoint(std::uint8_t tenths_of_percent) {
  return modbus::rtu_frame(1, Bytes{0x06, 0x00, 0x30, 0x00, tenths_of_percent});
}
Bytes answer_of(std::uint8_t tenths_of_percent) {
  return modbus::rtu_frame(1, Bytes{0x03, 0x02, 0x00, tenths_of_percent});
}

bench::BenchSpec bench_with(SerialFormat serial, bool paced = true) {
  bench::BenchSpec spec = small_bench();
  spec.lines[0].serial = serial;
  spec.lines[0].paced = paced;
  return spec;
}

/// Sends a write that must not be carried out, and waits until it has been counted as no frame.
void is_not_understood(Running& running, const RawMaster& master) {
  const auto before = running.statistics();
  master.send(write_setpoint(99));
  running.until([&](const auto& seen) { return seen.faults > before.faults; });
  CHECK(running.statistics().requests == before.requests);
  CHECK(running.statistics().answers == before.answers);
  CHECK(running.setpoint(0) == 0.0);
}

void is_answered(const RawMaster& master) {
  master.send(ask());
  CHECK(master.receive(7) == answer_of(0));
}

}  // namespace

TEST_CASE("a master at another speed or with other stop bits changes nothing and gets no answer") {
  // A character has 11 bits: with other stop bits it has another parity (MODBUS over Serial Line
  // V1.02, 2.5.1).
  struct Row {
    SerialFormat line;
    speed_t speed;
    bool two_stop_bits;
  };
  const SerialFormat even{19200, 8, 'E', 1};
  const SerialFormat none{9600, 8, 'N', 2};
  const Row rows[] = {{even, B9600, false}, {even, B38400, false}, {even, B19200, true},
                      {none, B9600, false}, {none, B115200, true}, {even, B75, false}};
  for (const Row& row : rows) {
    CAPTURE(row.speed);
    CAPTURE(row.two_stop_bits);
    Running running(bench_with(row.line));
    running.go();
    const auto master = RawMaster::pty(running.line("field").path);
    master.set_serial(row.speed, row.two_stop_bits);
    is_not_understood(running, master);
    // Set right, it is answered: nothing of the garbage is left.
    master.set_serial(row.line.baud == 9600 ? B9600 : B19200, row.line.stop_bits == 2);
    is_answered(master);
  }
}

TEST_CASE("garbage at a wrong speed feeds no watchdog") {
  bench::BenchSpec spec = bench_with({});
  auto& watchdog = spec.units[0].unit.comms_loss;
  watchdog.lines = {"field"};
  watchdog.timeout = std::chrono::milliseconds{200};
  watchdog.policy = registers::Policy::latch_to_inhibit;
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::pty(running.line("field").path);
  is_answered(master);
  master.set_serial(B9600);
  const Deadline deadline;
  while (running.ask([](bench::Bench& bench, SimTime) { return bench.unit(0).state(); }) !=
         registers::State::inhibited) {
    deadline.check();
    const Bytes request = ask();
    if (::write(master.descriptor(), request.data(), request.size()) < 0) {
      REQUIRE(errno == EAGAIN);  // more than the system holds
    }
    std::this_thread::yield();
  }
  CHECK(running.statistics().requests == 1);
}

TEST_CASE("the journal names both settings, once for each change, and what cannot be seen") {
  Running running(bench_with({}));
  running.go();
  // One master all along: when one has gone the line's own settings are put back, and one that came at that
  // very moment may find its own taken away.
  const auto master = RawMaster::pty(running.line("field").path);
  const auto set_and_ask = [&](speed_t speed, bool two_stop_bits, bool good) {
    master.set_serial(speed, two_stop_bits);
    for (int i = 0; i < 2; ++i) {
      good ? is_answered(master) : is_not_understood(running, master);
    }
  };
  set_and_ask(B19200, false, true);
  CHECK(running.journal("the line is set to").empty());
  set_and_ask(B9600, false, false);
  const auto once = running.journal("the line is set to");
  REQUIRE(once.size() == 1);
  CHECK(
      once.front() ==
      "field: the master has opened it at 9600 bit/s with 1 stop bit, the line is set to 19200 8E1: as on a "
      "real line they do not understand each other, so it gets no answer (parity cannot be seen on a "
      "pseudo-terminal)");
  set_and_ask(B9600, false, false);
  CHECK(running.journal("the line is set to").size() == 1);
  set_and_ask(B19200, false, true);
  CHECK(running.journal("the line is set to").size() == 1);
  set_and_ask(B19200, true, false);
  CHECK(running.journal("at 19200 bit/s with 2 stop bits").size() == 1);
}

TEST_CASE("a line without pacing answers at any speed, and says once what a real one would do") {
  Running running(bench_with({}, false));
  running.go();
  // One master all along, or the second meets the leaving of the first being noticed.
  const auto master = RawMaster::pty(running.line("field").path);
  for (const speed_t speed : {B9600, B115200, B9600}) {
    master.set_serial(speed);
    is_answered(master);
  }
  CHECK(running.journal("a real line would stay silent").size() == 1);
  CHECK(running.statistics().faults == 0);
}

TEST_CASE("a master that never sets anything finds the line's own settings, whoever was there before") {
  Running running(bench_with({9600, 8, 'N', 2}));
  running.go();
  is_answered(RawMaster::pty(running.line("field").path));
  {
    const auto wrong = RawMaster::pty(running.line("field").path);
    wrong.set_serial(B1200);
    is_not_understood(running, wrong);
  }
  // The one before has gone when its leaving has been seen: its settings are put back then.
  const Deadline deadline;
  for (;;) {
    deadline.check();
    const auto next = RawMaster::pty(running.line("field").path);
    struct termios now {};
    REQUIRE(::tcgetattr(next.descriptor(), &now) == 0);
    if (::cfgetospeed(&now) == B9600) {
      is_answered(next);
      break;
    }
  }
}

#include "sim/io/master/stepped_masters.hpp"

#include <chrono>
#include <fstream>
#include <string>
#include <system_error>
#include <vector>

#include <doctest/doctest.h>
#include <pthread.h>
#include <sys/resource.h>
#include <unistd.h>

#include "tests/sim/io/master/stepped_rig.hpp"

namespace emberline::io {
namespace {

using registers::Point;

/// The time of so many characters at 19200 bit/s with 11 bits each (MODBUS over Serial Line V1.02, 2.5.1).
Duration characters(double count) { return from_seconds(count * 11.0 / 19200.0); }

/// Halves of a nanosecond are rounded here and there on the way.
bool at_about(SimTime seen, Duration expected) {
  return seen >= at(expected - 5ns) && seen <= at(expected + 5ns);
}

/// A read of an address that the table does not have: its refusal is noted when the answer is there.
rehearsal::ProgramStep reads_nowhere(Duration period, const std::string& unit) {
  rehearsal::ProgramStep step = reads(period, {unit + ".setpoint"});
  step.reads.front().row.address = 500;
  return step;
}

constexpr std::size_t kField = 0;
constexpr std::size_t kEthernet = 1;

#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)  // they have memory of their own

/// As long as it lives there is room for the stack of one more thread, and not of two.
class RoomForOneThread {
 public:
  RoomForOneThread() {
    pthread_getattr_default_np(&before_);
    ::getrlimit(RLIMIT_AS, &limit_);
    pthread_attr_t large;
    pthread_attr_init(&large);
    pthread_attr_setstacksize(&large, kStack_B);
    pthread_setattr_default_np(&large);
    pthread_attr_destroy(&large);
    std::size_t pages = 0;
    std::ifstream("/proc/self/statm") >> pages;
    const rlimit room{pages * static_cast<std::size_t>(::sysconf(_SC_PAGESIZE)) + kStack_B + kStack_B / 2,
                      limit_.rlim_max};
    ::setrlimit(RLIMIT_AS, &room);
  }
  ~RoomForOneThread() {
    ::setrlimit(RLIMIT_AS, &limit_);
    pthread_setattr_default_np(&before_);
    pthread_attr_destroy(&before_);
  }
  RoomForOneThread(const RoomForOneThread&) = delete;
  RoomForOneThread& operator=(const RoomForOneThread&) = delete;

 private:
  static constexpr std::size_t kStack_B = 512UL * 1024 * 1024;
  pthread_attr_t before_{};
  rlimit limit_{};
};

TEST_CASE("a stand-in for which the system has no thread leaves the others waiting for ever") {
  bench::Bench bench(two_heaters());
  const auto plc = master("plc", {"ethernet"}, {writes(1s, "north.setpoint", 0.5)});
  const auto standby = master("standby", {"ethernet"}, {writes(1s, "south.setpoint", 0.5)});
  const RoomForOneThread room;
  CHECK_THROWS_AS(SteppedMasters(bench, {plc, standby}), std::system_error);
}

#endif

TEST_CASE("what a stand-in writes is what the unit gets") {
  SteppedRig rig({master("plc", {"field", "ethernet"},
                         {writes(1s, "north.setpoint", 0.5), writes(2s, "north.comms_timeout", 6553.7),
                          writes(3s, "marshalling.coil.0", 1.0)})});
  rig.run(10s);
  CHECK(rig.bench().unit(0).value(Point::setpoint, at(10s)) == doctest::Approx(0.5));
  CHECK(rig.bench().unit(0).value(Point::comms_timeout, at(10s)) == doctest::Approx(6553.7));
  CHECK(rig.bench().unit(0).terminal(unit::Terminal::enable));
  REQUIRE(rig.writes.size() == 2);
  CHECK(rig.writes[0].what == "north 0.5 by plc");
  CHECK(rig.masters().transactions() == 3);
}

TEST_CASE("what a stand-in reads is what the unit has: a control loop over two slaves") {
  // measured: the io-block's copy of north's setpoint; output: south's setpoint.
  rehearsal::ProgramStep control;
  control.kind = rehearsal::ProgramStep::Kind::control;
  control.every = 1s;
  control.measured = target("marshalling.input.0");
  control.output = target("south.setpoint", true);
  control.target_value = 0.75;
  control.gain = 2.0;
  SteppedRig rig({master("plc", {"field", "ethernet"}, {writes(0s, "north.setpoint", 0.6), control})});
  rig.run(3s);
  // Proportional only: 2 (0.75 - 0.6) = 0.3.
  REQUIRE(rig.writes.size() >= 3);
  CHECK(rig.writes.back().what == "south 0.3 by plc");
}

TEST_CASE("a transaction on an RTU line takes its characters and the silence between them") {
  // MODBUS over Serial Line V1.02, 2.5.1: 11 bits a character, frames 3.5 characters apart. A read request
  // has 8 characters, an exception 5, a write and its echo 8 each.
  SteppedRig rig({master(
      "plc", {"field"},
      {reads_nowhere(60s, "north"), writes(1s, "north.setpoint", 0.5), writes(1s, "south.setpoint", 0.25)})});
  rig.run(10s);
  const auto notes = rig.notes("plc");
  REQUIRE(notes.size() == 1);
  CHECK(notes[0].what ==
        "north refused the read of 1 register from 0x01F4 (40501): illegal data address (02)");
  CHECK(at_about(notes[0].at, characters(8 + 3.5 + 5)));
  REQUIRE(rig.writes.size() == 2);
  CHECK(at_about(rig.writes[0].at, 1s + characters(8 + 3.5)));
  CHECK(at_about(rig.writes[1].at, 1s + characters(8 + 3.5 + 8 + 3.5 + 8 + 3.5)));
}

TEST_CASE("a transaction on TCP takes 0.2 ms each way") {
  SteppedRig rig(
      {master("plc", {"ethernet"}, {reads_nowhere(60s, "north"), writes(1s, "north.setpoint", 0.5)})});
  rig.run(10s);
  REQUIRE(rig.notes("plc").size() == 1);
  CHECK(rig.notes("plc")[0].at == at(400us));
  REQUIRE(rig.writes.size() == 1);
  CHECK(rig.writes[0].at == at(1s + 200us));
}

TEST_CASE("two stand-ins share an RTU line: the second speaks when the first is through") {
  SteppedRig rig({master("first", {"field"}, {reads_nowhere(60s, "north")}),
                  master("second", {"field"}, {reads_nowhere(60s, "south")})});
  rig.run(10s);
  REQUIRE(rig.notes("first").size() == 1);
  REQUIRE(rig.notes("second").size() == 1);
  CHECK(at_about(rig.notes("first")[0].at, characters(16.5)));
  CHECK(at_about(rig.notes("second")[0].at, characters(16.5 + 3.5 + 16.5)));
  CHECK(rig.notes("second")[0].what.starts_with("south refused"));
}

TEST_CASE("two stand-ins on TCP have a connection each and finish in the order of the file") {
  SteppedRig rig({master("zeta", {"ethernet"}, {reads_nowhere(60s, "north")}),
                  master("alpha", {"ethernet"}, {reads_nowhere(60s, "south")})});
  rig.run(10s);
  const auto& entries = rig.bench().journal().entries();
  std::vector<std::string> order;
  for (const auto& entry : entries) {
    if (entry.at == at(400us)) order.push_back(entry.subject);
  }
  CHECK(order == std::vector<std::string>{"zeta", "alpha"});
}

TEST_CASE("a cut line brings the time-out at its exact instant, a restored one answers again") {
  for (const std::string line : {"field", "ethernet"}) {
    CAPTURE(line);
    auto plc = master("plc", {line}, {reads(2s, {"north.load_current_l1"})});
    plc.lost_after = 2;
    plc.retries = 1;
    plc.when_back_writes = {{target("north.setpoint", true), 0.125}};
    SteppedRig rig({plc});
    rig.cut(line == "field" ? kField : kEthernet, at(3s), at(9s));
    rig.run(20s);
    // Requests of 4 s and 6 s are given up after two tries of 500 ms each.
    const auto notes = rig.notes("plc");
    REQUIRE(notes.size() == 2);
    CHECK(notes[0].at == at(7s));
    CHECK(notes[0].what ==
          "no answer from north, 2 requests in a row given up: counts as lost, writes nothing");
    CHECK(notes[1].what == "north answers again: no longer lost");
    // An answer with one register has 7 characters.
    CHECK(at_about(notes[1].at, 10s + (line == "field" ? characters(8 + 3.5 + 7) : Duration{400us})));
    REQUIRE(rig.writes.size() == 1);
    CHECK(rig.writes[0].what == "north 0.125 by plc");
    // 0, 2; 4, 6 and 8 s twice; 10, 12, 14, 16, 18, 20 s; the write.
    CHECK(rig.masters().transactions() == 2 + 6 + 6 + 1);
  }
}

TEST_CASE("an answer that is on its way when the cable comes off is lost") {
  auto plc = master("plc", {"field"}, {writes(2s, "north.setpoint", 0.5)});
  SteppedRig rig({plc});
  // The request is through after 11.5 characters (6.6 ms), the answer after 19.5 (11.2 ms).
  rig.cut(kField, at(2s + 8ms), at(3s));
  rig.run(5s);
  REQUIRE(rig.writes.size() == 1);
  REQUIRE(rig.notes("plc").size() == 1);
  CHECK(rig.notes("plc")[0].at == at(2500ms));
  CHECK(rig.notes("plc")[0].what == "no answer from north: request given up after one try");
}

TEST_CASE("a request that is on its way when the cable comes off never arrives") {
  SteppedRig rig({master("plc", {"field"}, {writes(2s, "north.setpoint", 0.5)})});
  rig.cut(kField, at(2s + 2ms), at(3s));
  rig.run(5s);
  CHECK(rig.writes.empty());
  CHECK(rig.notes("plc").size() == 1);
}

TEST_CASE(
    "a late answer on a serial line is taken for the answer to the next request, and that is explained") {
  // 18.5 characters are 10.6 ms; the stand-in waits for 10 ms. The answer to the first read lies there when
  // the second is sent, that of the second when the third is sent, and so on: always one behind.
  auto plc = master("plc", {"field"}, {reads(1s, {"north.setpoint"})});
  plc.timeout = 10ms;
  SteppedRig rig({plc});
  rig.run(5500ms);
  CHECK(rig.masters().transactions() == 6);
  CHECK(rig.masters().mistaken_answers() == 5);
  const auto notes = rig.notes("plc");
  REQUIRE(notes.size() == 3);  // given up once, explained once, answers again
  CHECK(notes[0].at == at(10ms));
  CHECK(notes[1].at == at(1s));
  CHECK(notes[1].what.starts_with("took a late answer to an earlier request on field"));
}

TEST_CASE("a late answer that does not fit the next request spoils it, and then nothing is left of it") {
  auto plc = master("plc", {"field"}, {reads(60s, {"north.setpoint"}), writes(1s, "north.setpoint", 0.5)});
  plc.timeout = 10ms;
  SteppedRig rig({plc});
  rig.run(5s);
  CHECK(rig.masters().mistaken_answers() == 0);
  CHECK(rig.writes.size() == 1);  // the unit has it, though the master does not know
  const auto notes = rig.notes("plc");
  REQUIRE(notes.size() == 1);
  CHECK(notes[0].at == at(10ms));
}

TEST_CASE("a late answer on TCP dies with the connection that the master gave up") {
  auto plc = master("plc", {"ethernet"}, {reads(1s, {"north.setpoint"})});
  plc.timeout = 300us;  // the way there and back takes 400 us
  SteppedRig rig({plc});
  rig.run(5500ms);
  CHECK(rig.masters().transactions() == 6);
  CHECK(rig.masters().mistaken_answers() == 0);
}

TEST_CASE("a slave without power is silence, and other stand-ins get the line after the time-out") {
  SteppedRig rig({master("first", {"field"}, {reads(60s, {"north.setpoint"})}),
                  master("second", {"field"}, {reads_nowhere(60s, "south")})});
  rig.hands.add(at(0s), [&] { rig.bench().set_unit_powered(0, false, at(0s)); });
  rig.run(5s);
  REQUIRE(rig.notes("first").size() == 1);
  CHECK(rig.notes("first")[0].at == at(500ms));
  REQUIRE(rig.notes("second").size() == 1);
  CHECK(at_about(rig.notes("second")[0].at, 500ms + characters(16.5)));
}

std::string long_run(std::uint64_t& transactions) {
  auto plc = master("plc", {"field", "ethernet"},
                    {reads(100ms, {"north.load_current_l1", "north.state", "south.setpoint"}),
                     reads(70ms, {"marshalling.input.0"}), writes(30s, "north.setpoint", 0.5)});
  plc.lost_after = 2;
  auto panel = master("panel", {"ethernet"},
                      {reads(50ms, {"north.setpoint", "south.state"}), reads_nowhere(10s, "south")});
  auto logger = master("logger", {"field"}, {reads(330ms, {"south.load_current_l1"})});
  logger.retries = 1;
  SteppedRig rig({plc, panel, logger});
  rig.cut(kField, at(20s), at(23s));
  rig.cut(kEthernet, at(22s), at(25s));
  rig.cut(kField, at(60s), at(60s + 7ms));
  rig.run(150s);
  transactions = rig.masters().transactions();
  return rig.journal();
}

TEST_CASE("ten thousand transactions with cuts repeat to the byte") {
  std::uint64_t first = 0;
  std::uint64_t second = 0;
  const auto begin = std::chrono::steady_clock::now();
  const std::string journal = long_run(first);
  const auto wall = std::chrono::steady_clock::now() - begin;
  CHECK(journal == long_run(second));
  CHECK(first == second);
  CHECK(first > 10'000);
  CHECK(journal.find("counts as lost") != std::string::npos);
  MESSAGE(first << " transactions, "
                << std::chrono::duration<double, std::micro>(wall).count() / static_cast<double>(first)
                << " us each, bench included");
}

TEST_CASE("ending the run in the middle of a request, of a sleep or before the start does not hang") {
  const auto plc = master("plc", {"field"}, {reads(1s, {"north.setpoint"})});
  const auto other = master("other", {"ethernet"}, {reads(1s, {"north.setpoint"})});
  for (const Duration length : {Duration{0s}, Duration{3ms}, Duration{500ms}, Duration{2s + 3ms}}) {
    CAPTURE(length.count());
    SteppedRig broken_off({plc, other, plc});
    if (length > 0s) broken_off.run(length);
    broken_off.break_off();

    SteppedRig finished({plc, other, plc});
    if (length > 0s) finished.run(length);
    const auto entries = finished.bench().journal().entries().size();
    finished.masters().finish();
    CHECK_FALSE(finished.masters().wire().next());
    CHECK_FALSE(finished.masters().stand_ins().next());
    finished.run(length + 10s);  // nothing is due any more
    CHECK(finished.bench().journal().entries().size() == entries);
  }
}

TEST_CASE("stand-ins with nothing to do, or on lines that are not there, end at once") {
  SteppedRig rig(
      {master("idle", {"field"}, {}), master("astray", {"nowhere"}, {reads(1s, {"north.state"})})});
  rig.run(5s);
  CHECK(rig.masters().transactions() == 0);
}

}  // namespace
}  // namespace emberline::io

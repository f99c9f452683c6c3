#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/master/stepped_rig.hpp"

namespace emberline::io {
namespace {

using registers::Point;
using rehearsal::SlaveCondition;

constexpr std::size_t kField = 0;

/// What stands on the lines.
struct Watcher final : bench::LineObserver {
  void session_began(const bench::SessionSeen& session) override { began.push_back(session); }
  void frame(const bench::FrameSeen& seen) override {
    ++(seen.broken() ? broken : good);
    if (seen.broken()) last = {seen.bytes.begin(), seen.bytes.end()};
    last_at = seen.at;
  }
  void request(const bench::RequestSeen&) override { ++requests; }
  int broken = 0;
  int good = 0;
  int requests = 0;
  modbus::Bytes last;
  SimTime last_at{};
  std::vector<bench::SessionSeen> began;
};

TEST_CASE(
    "a stand-in at another speed is answered by nobody, counted as broken frames, and feeds no watchdog") {
  struct Row {
    SerialFormat serial;
    bool understood;
  };
  const Row rows[] = {{{19200, 8, 'E', 1}, true},
                      {{9600, 8, 'E', 1}, false},
                      {{38400, 8, 'E', 1}, false},
                      {{19200, 8, 'N', 1}, false},
                      {{19200, 8, 'E', 2}, false}};
  for (const auto& [serial, understood] : rows) {
    CAPTURE(to_text(serial));
    bench::BenchSpec spec = two_heaters();
    spec.units[0].unit.comms_loss.timeout = 2s;
    spec.units[0].unit.comms_loss.policy = registers::Policy::latch_to_inhibit;
    auto plc =
        master("plc", {"field"}, {reads(500ms, {"north.state"}), writes(200ms, "north.setpoint", 0.5)});
    plc.timeout = 200ms;
    plc.serial = serial;
    // Another one arms the watchdog and is gone after half a second.
    auto right = master("right", {"field"}, {reads(1s, {"north.state"})});
    right.stops = at(500ms);
    SteppedRig rig({plc, right}, spec);
    Watcher watcher;
    rig.bench().lines().add_observer(watcher);
    rig.run(4s);
    rig.bench().lines().remove_observer(watcher);
    CHECK((watcher.broken > 8) == !understood);
    CHECK((watcher.requests > 8) == understood);
    CHECK((rig.writes.size() == 1) == understood);
    const auto warnings = static_cast<std::uint32_t>(rig.bench().unit(0).value(Point::warnings, at(4s)));
    const auto trips = static_cast<std::uint32_t>(rig.bench().unit(0).value(Point::trips, at(4s)));
    CHECK(((warnings | trips) == 0) == understood);
  }
}

TEST_CASE("what comes at another speed takes the sender's time and is no character") {
  // MODBUS over Serial Line V1.02, 2.5.1: 11 bits a character; a read has 8 characters.
  auto plc = master("plc", {"field"}, {reads(60s, {"north.state"})});
  plc.serial = SerialFormat{1200, 8, 'E', 1};
  SteppedRig rig({plc});
  Watcher watcher;
  rig.bench().lines().add_observer(watcher);
  rig.run(5s);
  rig.bench().lines().remove_observer(watcher);
  CHECK(watcher.broken == 1);
  CHECK(watcher.last == modbus::Bytes(8, 0));
  // Told when 3.5 characters of the receiver have passed in silence.
  CHECK(to_seconds(watcher.last_at.time_since_epoch()) ==
        doctest::Approx(8 * 11.0 / 1200 + 3.5 * 11.0 / 19200).epsilon(1e-6));
}

TEST_CASE("a stand-in's own format is nothing to a TCP line") {
  auto plc = master("plc", {"ethernet"}, {reads(1s, {"north.state"})});
  plc.serial = SerialFormat{1200, 8, 'E', 1};
  SteppedRig rig({plc});
  rig.run(5s);
  CHECK(rig.notes("plc").empty());
  CHECK(rig.masters().transactions() == 6);
}

TEST_CASE("a power failure of a stand-in ends its connection and all it knew") {
  auto plc = master("plc", {"ethernet"}, {reads(1s, {"north.state"}), writes(500ms, "north.setpoint", 0.5)});
  plc.restarts = {{at(3500ms), 2s}};
  SteppedRig rig({plc});
  Watcher watcher;
  rig.bench().lines().add_observer(watcher);
  rig.run(7200ms);
  REQUIRE(watcher.began.size() == 2);
  CHECK(watcher.began[1].at == at(5500ms + 200us));
  REQUIRE(rig.writes.size() == 2);
  CHECK(rig.writes[1].at == at(6s + 200us));  // half a second after it has begun anew
  REQUIRE(rig.notes("plc").size() == 2);
  CHECK(rig.notes("plc")[1].at == at(5500ms));
  rig.bench().lines().remove_observer(watcher);
}

TEST_CASE(
    "a stand-in whose power fails during a request waits for the answer, or hears it in its next life") {
  // Two slow lines with a unit each that takes its time; `other` keeps the shared one busy.
  for (const char* line : {"field", "ethernet"}) {
    CAPTURE(line);
    auto plc = master("plc", {line}, {reads(10s, {"north.state"})});
    plc.timeout = 30s;
    plc.restarts = {{at(2s), 2s}, {at(12s), 100ms}};
    SteppedRig rig({plc});
    rig.cut(std::string(line) == "field" ? kField : std::size_t{1}, at(0s), at(3s));
    rig.run(14s);
    const auto notes = rig.notes("plc");
    REQUIRE(notes.size() == 4);
    CHECK(notes[0].at == at(2s));
    CHECK(notes[1].at == at(4s));
    CHECK(notes[2].at == at(12s));
    CHECK(notes[3].at == at(12100ms));
    CHECK(rig.masters().transactions() == 3);
  }
}

TEST_CASE("a request that waits for the wire is sent by a stand-in without power") {
  auto slow = master("slow", {"field"}, {reads(1s, {"south.state"})});
  slow.timeout = 3s;
  auto plc = master("plc", {"field"}, {writes(500ms, "north.setpoint", 0.5)});
  plc.restarts = {{at(1s), 10s}};
  SteppedRig rig({slow, plc});
  rig.cut(kField, at(0s), at(2s));  // slow holds the wire for 3 s, and nobody answers
  rig.run(8s);
  CHECK(rig.writes.empty());
  REQUIRE(rig.notes("plc").size() == 1);
  CHECK(rig.notes("plc")[0].at == at(1s));
}

TEST_CASE("a frame that a power failure cuts is carried out") {
  // 8 characters of 11 bits at 19200 bit/s take 4.6 ms: the power fails in the middle, or before the first
  // bit.
  for (const Duration into : {Duration{2ms}, Duration{0ms}}) {
    auto plc = master("plc", {"field"}, {writes(500ms, "north.setpoint", 0.5)});
    plc.restarts = {{at(500ms + into), 10s}};
    SteppedRig rig({plc});
    rig.run(8s);
    CHECK(rig.writes.empty());
  }
}

/// Heats north while it answers; a loss leads to a safe state, a return back, and an alarm tells of it.
rehearsal::MasterSpec with_states() {
  auto plc = master("plc", {"field", "ethernet"}, {reads(500ms, {"north.state", "north.setpoint"})});
  plc.timeout = 100ms;
  plc.lost_after = 2;
  const auto north = target("north.setpoint", true);
  const auto coil = target("marshalling.coil.0", true);
  const auto sees = [](SlaveCondition::Kind kind) {
    return rehearsal::Trigger{{}, {{kind, false, 0, "north"}}};
  };
  rehearsal::ProgramStep ramp;
  ramp.kind = rehearsal::ProgramStep::Kind::ramp;
  ramp.every = 1s;
  ramp.ramps = {{north, 0.0, 0.5, 5s}};
  plc.states = {{"heat", {}, {ramp}, {{1, {}, sees(SlaveCondition::Kind::lost), {}}}},
                {"safe", {{coil, 0.0}}, {}, {{0, {}, sees(SlaveCondition::Kind::back), 1s}}}};
  plc.alarms = {
      {"comms", sees(SlaveCondition::Kind::lost), {}, {{target("south.setpoint", true), 0.1}}, {}, {}}};
  return plc;
}

std::string run_with_states() {
  auto other = master("other", {"field"}, {reads(370ms, {"south.load_current_l1"})});
  other.serial = SerialFormat{9600, 8, 'N', 2};
  other.starts = at(4s);
  SteppedRig rig({with_states(), other});
  rig.cut(kField, at(10s), at(20s));
  rig.cut(kField, at(30s), at(31s));
  rig.run(60s);
  return rig.journal();
}

TEST_CASE("a program with states repeats to the byte, beside one nobody understands") {
  const std::string journal = run_with_states();
  CHECK(journal == run_with_states());
  for (const char* sentence : {"plc: begins in heat", "plc: goes from heat to safe: north is lost",
                               "plc: alarm 'comms' comes: north is lost", "plc: alarm 'comms' goes",
                               "plc: goes from safe to heat: north is back for 1 s"}) {
    CAPTURE(std::string(sentence));
    CHECK(journal.find(sentence) != std::string::npos);
  }
}

TEST_CASE("ending the run in a state, a pause between tries or a power failure does not hang") {
  auto plc = with_states();
  plc.retries = 3;
  plc.retry_after = 200ms;
  plc.restarts = {{at(2s), 2s}};
  for (const Duration length : {Duration{150ms}, Duration{900ms}, Duration{3s}, Duration{5s}}) {
    SteppedRig rig({plc, with_states()});
    rig.cut(kField, at(0s), at(60s));
    rig.run(length);
    rig.break_off();
  }
}

}  // namespace
}  // namespace emberline::io

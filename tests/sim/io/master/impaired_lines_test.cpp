// What a stand-in, libmodbus that is, makes of each impairment.
#include <algorithm>
#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/master/stepped_rig.hpp"

namespace emberline::io {
namespace {

/// The time of so many characters at 19200 bit/s with 11 bits each (MODBUS over Serial Line V1.02, 2.5.1).
Duration characters(double count) { return from_seconds(count * 11.0 / 19200.0); }

const std::string kNoAnswer = "no answer from north: request given up after one try";
const std::string kMistaken = "took a late answer to an earlier request";
const std::string kBusy = "north refused";
const std::string kNothing;

/// One action at 2.5 s that is over at 5.5 s, under a stand-in that reads every second and writes once in
/// between, with a time-out of 500 ms.
struct Row {
  const char* action;
  const char* line;
  std::string first_note;  ///< how it begins
  Duration noted;          ///< and when; 0: whenever
  bool write_arrives;
  bool mistaken;
  const char* why;
};

const Row kRows[] = {
    {"cut LINE", "field", kNoAnswer, 3500ms, false, false, "nobody hears the request"},
    {"cut LINE way to-masters", "field", kNoAnswer, 3500ms, true, false, "the unit acts all the same"},
    {"drop_requests LINE", "field", kNoAnswer, 3500ms, false, false, "nobody hears the request"},
    {"drop_answers LINE", "field", kNoAnswer, 3500ms, true, false, "the unit acts all the same"},
    {"delay LINE by 600 ms", "field", kNoAnswer, 3500ms, true, true, "the answer of 3 s lies there at 4 s"},
    {"delay LINE by 600 ms way to-units", "field", kNoAnswer, 3500ms, true, true, "the same"},
    {"delay LINE by 400 ms", "field", kNothing, 0s, true, false, "within the time-out"},
    {"truncate LINE", "field", kNoAnswer, 3500ms, true, false, "waits for the rest"},
    {"repeat_answer LINE", "field", kMistaken, 4s, true, true, "the copy of 3 s lies there at 4 s"},
    {"late_answer LINE", "field", kNoAnswer, 3500ms, true, true, "the answer of 3 s comes at 4 s"},
    {"wrong_id LINE as 2", "field", kNoAnswer, 3500ms, true, false,
     "libmodbus looks at the id of an RTU answer"},
    {"bit_errors LINE rate 0.2", "field", kNoAnswer, 3500ms, false, false, "a bad CRC at the unit"},
    {"bit_errors LINE rate 0.2 way to-masters", "field", kNoAnswer, 0s, true, false, "or at the master"},
    {"noise LINE bytes 8", "field", kNoAnswer, 3500ms, false, false, "no frame at the unit"},
    {"noise LINE way to-masters place before", "field", kNoAnswer, 0s, true, false, "nor at the master"},
    {"echo LINE", "field", kNoAnswer, 3500ms, true, false,
     "as an answer the request has a byte count of 0: bad CRC"},
    {"collision LINE id 1", "field", kNoAnswer, 0s, true, false, "two answers at once are no frame"},
    {"stuck_busy north", "field", kBusy, 3s + characters(8 + 3.5 + 5), false, false, "exception 06"},
    {"cut LINE", "ethernet", kNoAnswer, 3500ms, false, false, "nothing gets through"},
    {"drop_requests LINE", "ethernet", kNoAnswer, 3500ms, false, false, "nobody gets the request"},
    {"drop_answers LINE", "ethernet", kNoAnswer, 3500ms, true, false, "the unit acts all the same"},
    {"delay LINE by 600 ms", "ethernet", kNoAnswer, 3500ms, true, false,
     "the late answer dies with the connection that the master closed"},
    {"truncate LINE", "ethernet", kNoAnswer, 3500ms, true, false, "waits for the rest"},
    {"repeat_answer LINE", "ethernet", kNoAnswer, 4s, true, false,
     "libmodbus sees the transaction id of the copy and connects anew"},
    {"late_answer LINE", "ethernet", kNoAnswer, 3500ms, true, false, "it never comes"},
    {"wrong_id LINE as 2", "ethernet", kNothing, 0s, true, false,
     "libmodbus does not look at the id of a TCP answer"},
    {"tcp_reset LINE", "ethernet", kNothing, 0s, true, false, "between two requests: connects anew"},
    {"tcp_refused LINE", "ethernet", kNothing, 0s, true, false, "the connection that is there goes on"},
    {"tcp_silent LINE", "ethernet", kNoAnswer, 3500ms, false, false, "nobody reads the request"},
    {"half_open LINE", "ethernet", kNoAnswer, 3500ms, true, false,
     "one time-out, then a new connection, over which the write arrives"},
    {"stuck_busy north", "ethernet", kBusy, 3s + 400us, false, false, "exception 06"},
};

TEST_CASE("what a stand-in makes of an impairment, and that it goes on when that is lifted") {
  for (const Row& row : kRows) {
    std::string action = row.action;
    const auto place = action.find("LINE");
    if (place != std::string::npos) action.replace(place, 4, row.line);
    const bool once = action.starts_with("tcp_reset");
    CAPTURE(action);
    CAPTURE(std::string(row.why));
    SteppedRig rig({master("plc", {row.line},
                           {reads(1s, {"north.setpoint"}), writes(4200ms, "north.setpoint", 0.5),
                            writes(9200ms, "north.setpoint", 0.25)})});
    rig.perform(at(2500ms), action + (once ? "" : " for 3 s"));
    rig.run(12s);

    const auto notes = rig.notes("plc");
    if (row.first_note.empty()) {
      CHECK(notes.empty());
    } else {
      REQUIRE_FALSE(notes.empty());
      CHECK_MESSAGE(notes.front().what.starts_with(row.first_note), notes.front().what);
      if (row.noted > 0s) CHECK(std::chrono::abs(notes.front().at - at(row.noted)) <= 10ns);
      const auto& last = notes.back().what;
      CHECK_MESSAGE((last.ends_with("answers again") || last.starts_with("north accepted")), last);
    }
    // Who has taken a late answer stays one behind until another kind of request fails on it; that clears it.
    for (const auto& note : notes) CHECK(note.at < at(row.mistaken ? 10100ms : 7s));
    CHECK((rig.masters().mistaken_answers() > 0) == row.mistaken);
    // What was written while it stood, and what after.
    REQUIRE_FALSE(rig.writes.empty());
    CHECK(rig.writes.size() == (row.write_arrives ? 2u : 1u));
    CHECK(rig.writes.back().what == "north 0.25 by plc");
    CHECK(rig.writes.back().at >= at(9200ms));
  }
}

TEST_CASE("a reset in the middle of a request fails it at once, and the next one connects anew") {
  SteppedRig rig({master("plc", {"ethernet"}, {reads(1s, {"north.setpoint"})})});
  rig.perform(at(3s + 100us), "tcp_reset ethernet");
  rig.run(6s);
  const auto notes = rig.notes("plc");
  REQUIRE(notes.size() == 2);
  CHECK(notes[0].what == kNoAnswer);
  CHECK(notes[0].at == at(3s + 100us));
  CHECK(notes[1].what == "north answers again");
  CHECK(notes[1].at == at(4s + 400us));
}

TEST_CASE("a line that refuses connections fails whoever has none, as fast as the refusal comes back") {
  SteppedRig rig({master("plc", {"ethernet"}, {reads(1s, {"north.setpoint"})})});
  rig.perform(at(2500ms), "tcp_refused ethernet for 3 s");
  rig.perform(at(2500ms), "tcp_reset ethernet");
  rig.run(8s);
  const auto notes = rig.notes("plc");
  REQUIRE(notes.size() == 2);
  CHECK(notes[0].what == kNoAnswer);
  CHECK(notes[0].at == at(3s + 400us));
  CHECK(notes[1].at == at(6s + 400us));
}

TEST_CASE("a serial device server has what goes wrong with frames and what goes wrong with connections") {
  bench::BenchSpec spec = two_heaters();
  spec.lines[0].kind = bench::LineKind::rtu_tcp;
  for (const std::string action : {"tcp_silent field for 3 s", "half_open field", "echo field for 3 s",
                                   "bit_errors field rate 0.2 for 3 s", "drop_requests field for 3 s"}) {
    CAPTURE(action);
    SteppedRig rig({master("plc", {"field"}, {reads(1s, {"north.setpoint"})})}, spec);
    rig.perform(at(2500ms), action);
    rig.run(10s);
    const auto notes = rig.notes("plc");
    REQUIRE(notes.size() == 2);
    CHECK(notes[0].what == kNoAnswer);
    CHECK(notes[0].at == at(3500ms));
    const Duration back = action.starts_with("half_open") ? 4s : 6s;
    CHECK(std::chrono::abs(notes[1].at - at(back + characters(8 + 3.5 + 7))) <= 10ns);
  }
  SteppedRig rig({master("plc", {"field"}, {reads(1s, {"north.setpoint"})})}, spec);
  rig.perform(at(2500ms), "tcp_reset field");
  rig.perform(at(2500ms), "tcp_refused field for 3 s");
  rig.run(10s);
  REQUIRE(rig.notes("plc").size() == 2);
  CHECK(rig.notes("plc")[0].at == at(3s + 400us));
}

TEST_CASE("with an echo on the line the write of one register looks confirmed, though nobody is there") {
  SteppedRig rig({master("plc", {"field"}, {writes(1s, "north.setpoint", 0.5)})});
  rig.perform(at(0s), "power_off north");
  rig.perform(at(0s), "echo field");
  rig.run(3s);
  CHECK(rig.writes.empty());
  // That the unit has gone is never noticed.
  CHECK(rig.notes("plc").empty());
}

TEST_CASE("a master that takes late answers for others stays one behind, and is told once") {
  SteppedRig rig({master("plc", {"field"}, {reads(1s, {"north.setpoint"})})});
  rig.perform(at(2500ms), "late_answer field for 5 s");
  rig.run(20s);
  // 3 s fails; 4, 5, 6 and 7 s get the answer before theirs, and so it goes on: what is left behind at 7.5 s
  // was never sent, so that 8 s is answered by its own.
  CHECK(rig.masters().mistaken_answers() == 4);
  const auto notes = rig.notes("plc");
  CHECK(std::count_if(notes.begin(), notes.end(),
                      [](const auto& note) { return note.what.starts_with(kMistaken); }) == 1);
}

}  // namespace
}  // namespace emberline::io

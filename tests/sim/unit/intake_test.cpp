// Intake limits: what is too much, what happens then, what the journal says.
#include "sim/unit/intake.hpp"

#include <algorithm>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "tests/sim/unit/rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using modbus::Refusal;
using registers::Point;
using registers::Warning;

TEST_CASE("the size of a read is counted wrongly") {
  const std::pair<modbus::Bytes, std::optional<int>> cases[] = {
      {{3, 0, 0, 0, 12}, 12},
      {{4, 0, 0, 0, 125}, 125},
      {{1, 0, 0, 0, 1}, 1},
      {{1, 0, 0, 0, 16}, 1},
      {{2, 0, 0, 0, 17}, 2},
      {{2, 0, 0, 7, 0xD0}, 125},
      {{6, 0, 0, 0, 1}, std::nullopt},
      {{5, 0, 0, 0xFF, 0}, std::nullopt},
  };
  for (const auto& [pdu, size] : cases) {
    CAPTURE(static_cast<int>(pdu[0]));
    const auto request = modbus::decode_request(pdu);
    REQUIRE(request);
    CHECK(read_size(*request) == size);
  }
}

TEST_CASE("a block is refused up to the limit, or taken beyond it") {
  const IntakeSpec exception{.largest_block = 12, .reads_per_second = {}, .beyond = Beyond::exception};
  const IntakeSpec accept{.largest_block = 12, .reads_per_second = {}, .beyond = Beyond::accept};
  Intake strict(exception);
  CHECK_FALSE(strict.read(12, at(0s), "plc").refused);
  CHECK_FALSE(strict.overloaded());
  CHECK(strict.read(13, at(1s), "plc").refused == Refusal::illegal_data_value);
  CHECK(strict.overloaded());
  Intake lenient(accept);
  const auto verdict = lenient.read(125, at(0s), "plc");
  CHECK_FALSE(verdict.refused);
  CHECK(verdict.sentence ==
        "intake limit passed by plc: 125 registers in one read, 113 above the limit of 12; answered all the "
        "same");
  CHECK(lenient.overloaded());
}

TEST_CASE("answers beyond the limit do not come later each time, or never stop coming") {
  const IntakeSpec spec{.largest_block = {}, .reads_per_second = 5, .beyond = Beyond::delay};
  Intake intake(spec);
  std::vector<Duration> held_back;
  int dropped = 0;
  for (int read = 0; read < 40; ++read) {  // ten a second, twice what it can digest
    const auto verdict = intake.read(1, at(read * 100ms), "plc");
    CHECK_FALSE(verdict.refused);
    if (verdict.dropped) {
      ++dropped;
    } else {
      held_back.push_back(verdict.held_back);
    }
  }
  // The first five fill the second; the sixth waits until the first is a second old, and so on.
  REQUIRE(held_back.size() > 10);
  for (int read = 0; read < 5; ++read) CHECK(held_back[static_cast<std::size_t>(read)] == Duration{});
  for (int read = 5; read < 10; ++read) CHECK(held_back[static_cast<std::size_t>(read)] == 500ms);
  CHECK(held_back[10] == 1s);
  CHECK(*std::max_element(held_back.begin(), held_back.end()) <= Intake::kLongestWait);
  // In 4 s and the second behind it, it works off five a second.
  CHECK(held_back.size() == 25);
  CHECK(dropped == 15);
}

TEST_CASE("answers overtake each other while reads are put off") {
  const IntakeSpec spec{.largest_block = 10, .reads_per_second = 4, .beyond = Beyond::delay};
  Intake intake(spec);
  Random chance(7);
  SimTime now{};
  SimTime last{};
  for (int read = 0; read < 5000; ++read) {
    now += std::chrono::milliseconds{chance.below(400)};
    const auto verdict = intake.read(1 + static_cast<int>(chance.below(40)), now, "plc");
    if (verdict.dropped) continue;
    CHECK(now + verdict.held_back >= last);
    last = now + verdict.held_back;
  }
}

TEST_CASE("a block too long for a slow unit takes no longer than a short one") {
  const IntakeSpec spec{.largest_block = 12, .reads_per_second = {}, .beyond = Beyond::delay};
  Intake intake(spec);
  CHECK(intake.read(12, at(0s), "plc").held_back == Duration{});
  CHECK(intake.read(13, at(2s), "plc").held_back == Intake::kPortion);
  const auto verdict = intake.read(36, at(4s), "plc");
  CHECK(verdict.held_back == 2 * Intake::kPortion);
  CHECK(verdict.sentence ==
        "intake limit passed by plc: 36 registers in one read, 24 above the limit of 12; answered 0.2 s "
        "later");
}

TEST_CASE("a read that the intake drops feeds the watchdog, or one that it puts off is answered at once") {
  auto spec = base_spec();
  spec.turnaround = 5ms;
  spec.intake = {.largest_block = {}, .reads_per_second = 1, .beyond = Beyond::delay};
  Rig rig(spec);
  CHECK(rig.read(0s));
  CHECK(rig.unit.ready_after() == 5ms);
  CHECK(rig.read(400ms));
  CHECK(rig.unit.ready_after() == 605ms);
  CHECK_FALSE(rig.read(500ms));  // it would have to wait 1.5 s
  CHECK(rig.value(Point::comms_age, 500ms) == doctest::Approx(0.1));
}

TEST_CASE("the second of reads_per_second does not slide") {
  const IntakeSpec spec{.largest_block = {}, .reads_per_second = 5, .beyond = Beyond::exception};
  struct Case {
    Duration when;
    bool taken;
  };
  // Five reads between 0.9 and 1.0 s fill the second until 1.9 s, across the full second at 1 s.
  const Case cases[] = {{900ms, true},   {920ms, true},   {940ms, true},   {960ms, true},
                        {1000ms, true},  {1001ms, false}, {1899ms, false}, {1900ms, true},
                        {1910ms, false}, {1920ms, true},  {1930ms, false}};
  Intake intake(spec);
  for (const auto& [when, taken] : cases) {
    CAPTURE(when.count());
    const auto verdict = intake.read(1, at(when), "plc");
    CHECK(verdict.refused == (taken ? std::nullopt : std::optional{Refusal::server_device_busy}));
  }
}

TEST_CASE("a master at exactly the rate is refused, or one at twice the rate gets no answers") {
  const IntakeSpec spec{.largest_block = {}, .reads_per_second = 5, .beyond = Beyond::exception};
  Intake exact(spec);
  for (int i = 0; i < 100; ++i) CHECK_FALSE(exact.read(1, at(i * 200ms), "plc").refused);
  Intake twice(spec);
  int answered = 0;
  for (int i = 0; i < 100; ++i) answered += twice.read(1, at(i * 100ms), "plc").refused ? 0 : 1;
  CHECK(answered == 50);
}

TEST_CASE("the journal hears of every excess, or not by whom and how much") {
  const IntakeSpec spec{.largest_block = {}, .reads_per_second = 2, .beyond = Beyond::exception};
  Intake intake(spec);
  std::vector<std::pair<Duration, std::string>> said;
  for (int i = 0; i < 30; ++i) {
    const auto verdict = intake.read(1, at(i * 100ms), i % 2 == 0 ? "plc" : "panel");
    if (!verdict.sentence.empty()) said.emplace_back(i * 100ms, verdict.sentence);
  }
  REQUIRE(said.size() == 3);
  CHECK(said[0].second ==
        "intake limit passed by plc: 3 reads within a second, 1 above the limit of 2; refused with exception "
        "06 (busy)");
  CHECK(said[1].first - said[0].first >= 1s);
  CHECK(said[1].second.find("10 reads within a second, 8 above the limit of 2") != std::string::npos);
  CHECK(said[1].second.find("more since the last entry about this") != std::string::npos);
}

TEST_CASE("the journal counts reads that were not asked for, where earlier ones are still worked off") {
  const IntakeSpec spec{.largest_block = {}, .reads_per_second = 5, .beyond = Beyond::delay};
  Intake intake(spec);
  std::string first;
  for (int i = 0; i < 10; ++i) {
    const auto sentence = intake.read(1, at(0s), "plc").sentence;
    if (first.empty()) first = sentence;
  }
  CHECK(first ==
        "intake limit passed by plc: 6 reads within a second, 1 above the limit of 5; answered 1 s later");
  CHECK(intake.read(1, at(1600ms), "plc").sentence ==
        "intake limit passed by plc: earlier reads, 5 a second, are still being worked off; answered 0.4 s "
        "later; 4 "
        "more since the last entry about this");
}

TEST_CASE("reads of several masters are counted apart, or writes are counted") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.intake = {.largest_block = {}, .reads_per_second = 2, .beyond = Beyond::exception};
  Rig rig(spec);
  for (int i = 0; i < 20; ++i) {
    CHECK_FALSE(modbus::refusal_of(*rig.write(kSetpoint, i, 1s)));
  }
  rig.send(Rig::read_pdu(kState), 1s, "field", "plc");
  rig.send(Rig::read_pdu(kState), 1s, "ethernet", "panel");
  const auto third = rig.send(Rig::read_pdu(kState), 1s, "field", "plc");
  CHECK(third == modbus::Bytes{0x83, 6});
}

TEST_CASE("request-overload does not stand for 2 s after the last excess") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.intake = {.largest_block = 2, .reads_per_second = {}, .beyond = Beyond::accept};
  Rig rig(spec);
  CHECK_FALSE(modbus::refusal_of(*rig.send(Rig::read_pdu(0, 3), 1s)));
  CHECK(rig.warns(Warning::request_overload));
  rig.send(Rig::read_pdu(0, 3), 1500ms);
  CHECK(rig.unit.next_timer() == at(3500ms));
  rig.run(3499ms);
  CHECK(rig.warns(Warning::request_overload));
  rig.run(3500ms);
  CHECK_FALSE(rig.warns(Warning::request_overload));
  CHECK_FALSE(rig.unit.next_timer());
}

TEST_CASE("without limits anything is too much") {
  const IntakeSpec spec;
  Intake intake(spec);
  for (int i = 0; i < 1000; ++i) CHECK_FALSE(intake.read(125, at(0s), "plc").refused);
  CHECK_FALSE(intake.overloaded());
}

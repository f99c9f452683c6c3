#include "sim/rehearsal/stand_in.hpp"

#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/rehearsal/pi_loop.hpp"
#include "sim/rehearsal/refusal_words.hpp"
#include "tests/sim/rehearsal/stand_in_rig.hpp"

namespace emberline::rehearsal {
namespace {

using namespace stand_in_rig;

TEST_CASE("a periodic line falls due at 0 s and at whole multiples, a timed one once") {
  const auto link = played(plc({read_every(2s, {kCurrent}), write_at(3s, {{kSetpoint, 0.5}})}), 6s, always);
  CHECK(link.did == Lines{"0 field 1 holding 64+1", "2 field 1 holding 64+1", "3 field 1 write 48 = 500",
                          "4 field 1 holding 64+1", "6 field 1 holding 64+1"});
  CHECK(link.noted.empty());
}

TEST_CASE("a program that has nothing left to do ends before the run") {
  const auto link = played(plc({write_at(3s, {{kSetpoint, 0.5}})}), 600s, always);
  CHECK(link.did.size() == 1);
  CHECK(link.now() == at(3010ms));
  CHECK(played(plc({}), 10s, always).did.empty());
}

TEST_CASE("what falls due while a request is under way follows in the order of the file") {
  // The first request lasts 500 ms, so the write of 0.2 s and the read of 0.3 s wait for it.
  const auto link = played(plc({write_at(300ms, {{kSetpoint, 0.3}}), write_at(200ms, {{kSetpoint, 0.2}}),
                                read_every(10s, {kCurrent})}),
                           5s, silent_between(0s, 100ms));
  CHECK(link.did ==
        Lines{"0 field 1 holding 64+1", "0.5 field 1 write 48 = 300", "0.51 field 1 write 48 = 200"});
}

TEST_CASE("a missed period is made up for once, not as often as it was missed") {
  // 100 ms period; the request sent at 0.2 s is given up at 0.7 s: 0.3 to 0.7 s were missed, one read
  // follows.
  const auto link = played(plc({read_every(100ms, {kCurrent})}), 850ms, silent_between(200ms, 250ms));
  CHECK(link.did == Lines{"0 field 1 holding 64+1", "0.1 field 1 holding 64+1", "0.2 field 1 holding 64+1",
                          "0.7 field 1 holding 64+1", "0.8 field 1 holding 64+1"});
}

TEST_CASE("a line that is always late does not keep the lines behind it from their turn") {
  const auto link = played(plc({read_every(100ms, {kOther}), read_every(1s, {kCurrent})}), 2s,
                           [](const std::string& request, SimTime) {
                             return request.starts_with("field 2") ? kSilence : Answer{};
                           });
  CHECK(link.did[0] == "0 field 2 holding 64+1");
  CHECK(link.did[1] == "0.5 field 1 holding 64+1");
  CHECK(link.did[2] == "0.51 field 2 holding 64+1");
  CHECK(link.did[3] == "1.01 field 2 holding 64+1");
  CHECK(link.did[4] == "1.51 field 1 holding 64+1");
}

TEST_CASE("two retries are three tries, and what is given up does not keep the rest from being asked") {
  MasterSpec master = plc({read_every(10s, {kOther, kCurrent})});
  master.retries = 2;
  const auto link = played(master, 5s, [](const std::string& request, SimTime) {
    return request.starts_with("field 2") ? kSilence : Answer{};
  });
  CHECK(link.did == Lines{"0 field 2 holding 64+1", "0.5 field 2 holding 64+1", "1 field 2 holding 64+1",
                          "1.5 field 1 holding 64+1"});
  CHECK(link.noted == Lines{"1.5 no answer from other: request given up after 3 tries"});
}

TEST_CASE("a refusal is an answer: no retry, no failure, one note a change") {
  MasterSpec master = plc({write_every(1s, {{kSetpoint, 0.5}})});
  master.retries = 2;
  master.lost_after = 1;
  const auto link = played(master, 4s, [](const std::string&, SimTime now) {
    return now < at(3s) ? Answer{.refusal = modbus::Refusal::illegal_data_value} : Answer{};
  });
  CHECK(link.did.size() == 5);
  CHECK(link.noted ==
        Lines{"0.01 heater refused heater.setpoint = 50 % at 0x0030 (40049): illegal data value (03)",
              "3.01 heater accepted heater.setpoint = 50 % at 0x0030 (40049)"});
}

TEST_CASE("a slave is lost after so many requests in a row, and an answer between starts the count anew") {
  MasterSpec master = plc({read_every(1s, {kCurrent})});
  master.lost_after = 3;
  const auto link = played(master, 12s, [](const std::string&, SimTime now) {
    const bool answers = now == at(0s) || now == at(3s) || now >= at(8s);
    return answers ? Answer{} : kSilence;
  });
  // Silent at 1 s and 2 s (two, then an answer at 3 s); silent at 4, 5, 6 and 7 s.
  CHECK(link.noted ==
        Lines{"6.5 no answer from heater, 3 requests in a row given up: counts as lost, writes nothing",
              "8.01 heater answers again: no longer lost"});
}

TEST_CASE("while a slave is lost its writes are kept back and its reads go on") {
  MasterSpec master = plc({read_every(1s, {kCurrent}), write_every(2s, {{kSetpoint, 0.5}})});
  master.lost_after = 1;
  const auto link = played(master, 6s, silent_between(500ms, 4500ms));
  CHECK(link.did == Lines{"0 field 1 holding 64+1", "0.01 field 1 write 48 = 500", "1 field 1 holding 64+1",
                          "2 field 1 holding 64+1", "3 field 1 holding 64+1", "4 field 1 holding 64+1",
                          "5 field 1 holding 64+1", "6 field 1 holding 64+1"});
  CHECK(link.noted == Lines{"1.5 no answer from heater, 1 request given up: counts as lost, writes nothing",
                            "2.5 keeps back heater.setpoint = 50 % while heater is lost",
                            "5.01 heater answers again: no longer lost"});
}

TEST_CASE("only the lost slave is spared, others are written to") {
  const Target other_setpoint = unit_register(1, "other.setpoint", 48);
  MasterSpec master =
      plc({read_every(10s, {kCurrent}), write_at(2s, {{kSetpoint, 0.1}, {other_setpoint, 0.2}})});
  master.lost_after = 1;
  const auto link = played(master, 5s, [](const std::string& request, SimTime) {
    return request.starts_with("field 1") ? kSilence : Answer{};
  });
  CHECK(link.did == Lines{"0 field 1 holding 64+1", "2 field 2 write 48 = 200"});
}

TEST_CASE("the writes for a loss go out once, to whoever they are for, the lost slave included") {
  const Target contactor = coil("marshalling.coil.8", 8);
  MasterSpec master = plc({read_every(1s, {kCurrent})});
  master.lost_after = 2;
  master.when_lost_writes = {{contactor, 0.0}, {kSetpoint, 0.0}};
  const auto link = played(master, 5s, [](const std::string& request, SimTime) {
    return request.starts_with("field 1 ") ? kSilence : Answer{};
  });
  CHECK(link.did == Lines{"0 field 1 holding 64+1", "1 field 1 holding 64+1", "1.5 field 20 coil 8 = off",
                          "1.51 field 1 write 48 = 0", "2.01 field 1 holding 64+1", "3 field 1 holding 64+1",
                          "4 field 1 holding 64+1", "5 field 1 holding 64+1"});
}

TEST_CASE("the writes for a return go out right after the first answer, a refusal included") {
  const Target second = unit_register(0, "heater.load_power", 90);
  MasterSpec master = plc({read_every(1s, {kCurrent, second})});
  master.lost_after = 1;
  master.when_back_writes = {{kSetpoint, 0.0}};
  const auto link = played(master, 2s, [](const std::string&, SimTime now) {
    if (now < at(1900ms)) return kSilence;
    return Answer{.refusal = modbus::Refusal::server_device_busy};
  });
  CHECK(link.did == Lines{"0 field 1 holding 64+1", "0.5 field 1 holding 90+1", "1 field 1 holding 64+1",
                          "1.5 field 1 holding 90+1", "2 field 1 holding 64+1"});
  // The run is over with that answer; a longer one shows the write before the rest of the list.
  const auto longer = played(master, 2030ms, [](const std::string&, SimTime now) {
    if (now < at(1900ms)) return kSilence;
    return Answer{.refusal = modbus::Refusal::server_device_busy};
  });
  CHECK(longer.did[5] == "2.01 field 1 write 48 = 0");
  CHECK(longer.did[6] == "2.02 field 1 holding 90+1");
}

TEST_CASE("a slave whose name nobody gave is named by its unit or its id") {
  Target unnamed = kCurrent;
  unnamed.slave_name.clear();
  Target block = coil("soak.measured", 0);
  block.slave_name.clear();
  const auto link = played(plc({read_every(10s, {unnamed, block})}), 5s, never);
  CHECK(link.noted == Lines{"0.5 no answer from heater: request given up after one try",
                            "1 no answer from unit id 20: request given up after one try"});
}

TEST_CASE("nothing is sent once the run is over") {
  MasterSpec master = plc({read_every(1s, {kOther, kCurrent})});
  master.retries = 5;
  const auto link = played(master, 400ms, never);
  CHECK(link.did == Lines{"0 field 2 holding 64+1"});
  CHECK(link.noted.empty());
}

TEST_CASE("a request goes over the first of the stand-in's lines that its slave is on") {
  Target both = kCurrent;
  both.lines = {"ethernet", "field"};
  Target only_ethernet = kOther;
  only_ethernet.lines = {"ethernet"};
  MasterSpec master = plc({read_every(10s, {both, only_ethernet})});
  master.lines = {"field", "ethernet"};
  CHECK(played(master, 1s, always).did == Lines{"0 field 1 holding 64+1", "0.01 ethernet 2 holding 64+1"});
}

TEST_CASE("values are carried as their row says: scale, 32 bits in two registers, coils") {
  Target wide = unit_register(0, "heater.setpoint", 100);
  wide.row.layout = {.type = registers::Type::f32, .scale = 0.01};
  const auto link =
      played(plc({write_at(0s, {{kSetpoint, 0.123}, {wide, 0.5}, {coil("marshalling.coil.0", 0), 1.0}})}), 1s,
             always);
  // 50.0 as IEEE 754 binary32 is 42480000h.
  CHECK(link.did ==
        Lines{"0 field 1 write 48 = 123", "0.01 field 1 write 100 = 16968 0", "0.02 field 20 coil 0 = on"});
}

TEST_CASE("the PI law gives the values computed by hand") {
  // u_k = K (e_k + (T/Ti) sum e): Seborg, Edgar, Mellichamp, Process Dynamics and Control, position form of
  // the digital controller (formula from memory), with K = 4 %/K, T = 2 s, Ti = 120 s.
  PiLoop loop({0.04, 2s, 120s});
  CHECK(loop.next(10.0) == doctest::Approx(0.04 * (10.0 + 10.0 / 60)).epsilon(1e-12));
  CHECK(loop.next(8.0) == doctest::Approx(0.04 * (8.0 + 18.0 / 60)).epsilon(1e-12));
  CHECK(loop.next(-1.0) == doctest::Approx(0.0).epsilon(1e-12));  // 0.04 (-1 + 17/60) is below 0
  CHECK(loop.next(1.0) == doctest::Approx(0.04 * (1.0 + 19.0 / 60)).epsilon(1e-12));

  PiLoop proportional({0.04, 2s, 0s});
  CHECK(proportional.next(10.0) == doctest::Approx(0.4).epsilon(1e-12));
  CHECK(proportional.next(10.0) == doctest::Approx(0.4).epsilon(1e-12));
}

TEST_CASE("an hour at the end of the range does not wind the integral up") {
  PiLoop loop({0.04, 2s, 120s});
  for (int k = 0; k < 1800; ++k) CHECK(loop.next(500.0) == 1.0);
  // Had it been summed up, the output would stay at 100 % for the rest of the day.
  CHECK(loop.next(-1.0) == 0.0);
  CHECK(loop.next(5.0) < 0.25);
}

TEST_CASE("control reads, then writes its output each period") {
  Target measured = unit_register(2, "soak.measured", 0);
  measured.row.table = modbus::Table::input_registers;
  measured.row.layout = {.type = registers::Type::s16, .scale = 0.1};
  measured.info.dimension = Dimension::temperature;
  ProgramStep control;
  control.kind = Kind::control;
  control.every = 2s;
  control.output = kSetpoint;
  control.measured = measured;
  control.target_value = 560.0;
  control.gain = 0.04;
  control.integral_time = 120s;
  MasterSpec master = plc({control});
  master.lost_after = 1;
  const auto script = [](const std::string& request, SimTime now) {
    const bool heater = request.starts_with("field 1");
    if (heater && now >= at(4s) && now < at(5s)) return kSilence;
    return Answer{.word = 5500};  // 550.0 degC: e = 10 K throughout
  };
  const auto link = played(master, 8s, script);
  // 0.04 (10 + n/6) for n = 1, 2, 3 samples: 40.67 %, 41.33 %, 42 %; in tenths of a percent 407, 413, 420.
  // The third write is not answered; from then on the heater is lost, and without a read of it, for good.
  CHECK(link.did == Lines{"0 field 3 input 0+1", "0.01 field 1 write 48 = 407", "2 field 3 input 0+1",
                          "2.01 field 1 write 48 = 413", "4 field 3 input 0+1", "4.01 field 1 write 48 = 420",
                          "6 field 3 input 0+1", "8 field 3 input 0+1"});

  // With a read that brings it back, the integral goes on from where it was held: n = 4 is 42.67 %.
  master.program.push_back(read_every(7s, {kCurrent}));
  const auto back = played(master, 8030ms, script);
  CHECK(back.did.back() == "8.01 field 1 write 48 = 427");
}

TEST_CASE("a measured value that does not come moves nothing") {
  ProgramStep control;
  control.kind = Kind::control;
  control.every = 1s;
  control.output = kSetpoint;
  control.measured = kOther;
  control.target_value = 1.0;
  control.gain = 0.1;
  const auto link = played(plc({control}), 2s, [](const std::string& request, SimTime now) {
    return request.starts_with("field 2") && now < at(1500ms) ? kSilence : Answer{};
  });
  CHECK(link.did == Lines{"0 field 2 holding 64+1", "1 field 2 holding 64+1", "2 field 2 holding 64+1"});
}

TEST_CASE("exception codes are told in the standard's words") {
  // MODBUS Application Protocol V1.1b3, section 7.
  CHECK(refusal_words(modbus::Refusal::illegal_function) == "illegal function (01)");
  CHECK(refusal_words(modbus::Refusal::illegal_data_address) == "illegal data address (02)");
  CHECK(refusal_words(modbus::Refusal::gateway_target_failed) ==
        "gateway target device failed to respond (0B)");
  CHECK(refusal_words(static_cast<modbus::Refusal>(0x42)) == "exception (42)");
}

}  // namespace
}  // namespace emberline::rehearsal

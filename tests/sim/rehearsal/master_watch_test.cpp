#include "sim/rehearsal/master_watch.hpp"

#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/bench/line_session.hpp"
#include "sim/modbus/crc.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using bench::LineSession;
using modbus::Bytes;
using namespace std::chrono_literals;

namespace {

SimTime at(Duration since_start) { return SimTime{since_start}; }

/// A bench whose lines are watched, and a master on its RTU line.
struct Watched {
  Watched() : bench(testing::wired_bench()), watch(bench.spec()), session(bench, 0, "plc", {}) {
    bench.lines().add_observer(watch);
    watch.on_request([this](const bench::RequestSeen&, bool again) { retries.push_back(again); });
  }
  ~Watched() { bench.lines().remove_observer(watch); }
  Watched(const Watched&) = delete;
  Watched& operator=(const Watched&) = delete;

  void ask(const Bytes& pdu, Duration when, bool answer_lost = false, std::uint8_t id = 1) {
    session.receive(modbus::rtu_frame(id, pdu), at(when));
    for (const auto& piece : session.poll(at(when)))
      if (!answer_lost) session.sent(piece, piece.due);
  }
  void write_setpoint(int tenths, Duration when, std::uint8_t id = 1) {
    ask({6, 0, 0, static_cast<std::uint8_t>(tenths >> 8), static_cast<std::uint8_t>(tenths)}, when, false,
        id);
  }

  bench::Bench bench;
  rehearsal::MasterWatch watch;
  LineSession session;
  std::vector<bool> retries;
};

const Bytes kReadState{3, 0, 1, 0, 1};

}  // namespace

TEST_CASE("a report does not tell what a master wrote to a point") {
  Watched watched;
  watched.write_setpoint(500, 1s);
  watched.write_setpoint(250, 2s);
  watched.write_setpoint(1500, 3s);  // beyond the row's range: refused
  watched.write_setpoint(300, 4s);
  watched.ask({6, 0, 5, 0, 1}, 5s);
  watched.bench.request(1, 1, Bytes{6, 0, 0, 0, 100}, at(6s), "192.0.2.7:49160");
  watched.bench.request(1, 1, Bytes{6, 0, 0, 0, 200}, at(7s), "192.0.2.7:49161");
  const auto writes = watched.watch.writes();
  REQUIRE(writes.size() == 3);
  CHECK(writes[0].master == "192.0.2.7");
  CHECK(writes[0].point == "heater.setpoint");
  CHECK(writes[0].times == 2);
  const auto& by_plc = writes[1];
  CHECK(by_plc.master == "plc");
  CHECK(by_plc.point == "heater.setpoint");
  CHECK(by_plc.times == 4);
  CHECK(by_plc.refused == 1);
  CHECK(by_plc.first_at >= at(1s));
  CHECK(by_plc.first == "50 %");
  CHECK(by_plc.last_at >= at(4s));
  CHECK(by_plc.last == "30 %");
  CHECK(by_plc.lowest == "25 %");
  CHECK(by_plc.highest == "150 %");
  CHECK(writes[2].point == "heater.reset");
  CHECK(writes[2].times == 1);
}

TEST_CASE("the longest silence of a slave is not found, or ends with somebody else's request") {
  Watched watched;
  watched.ask(kReadState, 1s);
  watched.ask(kReadState, 5s);
  watched.ask(kReadState, 6s, false, 9);  // nobody's
  watched.write_setpoint(100, 8s, 0);     // a broadcast
  auto silences = watched.watch.silences(at(10s));
  REQUIRE(silences.size() == 2);
  CHECK(silences[0].slave == "heater");
  CHECK(silences[0].longest == 4s);
  CHECK(silences[0].until >= at(5s));
  CHECK(silences[1].slave == "marshalling");
  CHECK(silences[1].longest == 10s);
  CHECK(silences[1].until == at(10s));
  silences = watched.watch.silences(at(20s));
  CHECK(silences[0].longest >= 11s);
  CHECK(silences[0].until == at(20s));
}

TEST_CASE("whoever listens is told of a retry that is none, or not of one") {
  Watched watched;
  watched.ask(kReadState, 1s);
  watched.ask(kReadState, 2s);  // the same again, but the one before was answered
  watched.ask(kReadState, 3s, true);
  watched.ask(kReadState, 4s);  // a retry
  watched.ask(kReadState, 5s, true);
  watched.ask({3, 0, 2, 0, 1}, 6s);    // another request
  watched.write_setpoint(100, 7s, 0);  // a broadcast, which nobody answers
  watched.write_setpoint(100, 8s, 0);
  CHECK(watched.retries == std::vector<bool>{false, false, false, true, false, false, false, false});
}

#include <cstdint>
#include <optional>
#include <vector>

#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/bench/line_session.hpp"
#include "sim/modbus/crc.hpp"
#include "tests/support/heated_bench.hpp"

// Counters of milliseconds with 32 bits run over after 24.9 days where they have a sign and after 49.7 days
// where they have none, a common mistake of programs that are never switched off (common practice, no
// source). Only the timers of the bench run here: its grid would take 43 million steps to get there.

using namespace emberline;
using namespace std::chrono_literals;
using registers::Point;
using registers::State;

namespace {

constexpr std::size_t kField = 0;
const modbus::Bytes kReadState{0x03, 0x00, 0x01, 0x00, 0x01};

/// A bench that has stood there, unasked, until two seconds before the instant.
struct LateBench {
  explicit LateBench(SimTime instant, bench::BenchSpec spec = testing::wired_bench())
      : bench(std::move(spec)) {
    loop.add(bench::Rank::timers, bench.timers());
    loop.run_through(instant - 2s);
  }
  std::optional<modbus::Bytes> ask(std::size_t line, std::uint8_t id, const modbus::Bytes& pdu) {
    return bench.request(line, id, pdu, loop.now(), "plc").pdu;
  }
  [[nodiscard]] State state() const { return bench.unit(0).state(); }

  bench::Bench bench;
  bench::EventLoop loop;
};

const std::vector<SimTime> kEdges{SimTime{(1LL << 31) * 1ms}, SimTime{(1LL << 32) * 1ms},
                                  SimTime{(1LL << 32) * 1s}};

}  // namespace

TEST_CASE("after weeks of uptime the watchdog runs out in its time, to the nanosecond") {
  for (const SimTime edge : kEdges) {
    CAPTURE(to_seconds(edge));
    LateBench late(edge);
    REQUIRE(late.ask(kField, 1, kReadState));
    CHECK(late.state() == State::stopped);
    late.loop.run_through(edge - 2s + 3s - 1ns);
    CHECK(late.state() == State::stopped);
    CHECK(late.bench.unit(0).value(Point::comms_age, late.loop.now()) == doctest::Approx(3.0));
    late.loop.run_through(edge + 1s);
    CHECK(late.state() == State::inhibited);
    CHECK(late.bench.journal().entries().back().at == edge + 1s);
  }
}

TEST_CASE("a master that asks every second across the edge keeps its watchdog fed") {
  for (const SimTime edge : kEdges) {
    CAPTURE(to_seconds(edge));
    LateBench late(edge);
    for (SimTime at = edge - 2s; at <= edge + 4s; at += 1s) {
      late.loop.run_through(at);
      CHECK(late.ask(kField, 1, kReadState) ==
            modbus::Bytes{0x03, 0x02, 0x00, static_cast<std::uint8_t>(State::stopped)});
    }
    late.loop.run_through(edge + 7s);
    CHECK(late.state() == State::inhibited);
  }
}

TEST_CASE("the diagnostic counters of a serial port go on counting across the edge") {
  for (const SimTime edge : kEdges) {
    CAPTURE(to_seconds(edge));
    LateBench late(edge);
    // MODBUS Application Protocol V1.1b3, 6.8.1: 08 0B returns how many messages were seen on the line, this
    // one among them.
    const modbus::Bytes count{0x08, 0x00, 0x0B, 0x00, 0x00};
    late.bench.heard(kField, modbus::Heard::good_frame);
    const auto before = late.ask(kField, 1, count);
    REQUIRE(before);
    late.loop.run_through(edge + 1ms);
    late.bench.heard(kField, modbus::Heard::good_frame);
    const auto after = late.ask(kField, 1, count);
    REQUIRE(after);
    CHECK(after->back() == before->back() + 1);
  }
}

TEST_CASE("frames on a wire are paced across the edge as ever") {
  for (const SimTime edge : kEdges) {
    CAPTURE(to_seconds(edge));
    LateBench late(edge);
    bench::LineSession session(late.bench, kField, "plc", {.strict = true});
    late.loop.run_through(edge - 1ms);
    session.receive(modbus::rtu_frame(1, kReadState), edge - 1ms);
    const auto silent_from = session.wake_at();
    REQUIRE(silent_from);
    // 19200 bit/s, 11 bits a character: t3.5 is 2.005 ms (MODBUS over Serial Line V1.02, 2.5.1), the answer
    // has 7.
    CHECK(*silent_from > edge);
    CHECK(*silent_from < edge + 2ms);
    late.loop.run_through(*silent_from);
    const auto answers = session.poll(*silent_from);
    REQUIRE(answers.size() == 1);
    CHECK(answers[0].due > *silent_from);
    CHECK(answers[0].due < edge + 10ms);
  }
}

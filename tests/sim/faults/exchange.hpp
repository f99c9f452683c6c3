#pragma once

#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/bench/line_session.hpp"
#include "sim/faults/action.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "tests/support/heated_bench.hpp"

namespace emberline::testing {

using modbus::Bytes;
using namespace std::chrono_literals;

constexpr std::size_t kField = 0;
constexpr std::size_t kEthernet = 1;

inline SimTime at(Duration since_start) { return SimTime{since_start}; }

/// What came back to the master: how long after the request's last byte, and what.
struct Heard {
  Duration after;
  Bytes bytes;
  bool operator==(const Heard&) const = default;
};

/// A bench with one heater (unit id 1, setpoint at register 0 in tenths of a per cent, state at 1) on an RTU
/// line and a TCP line, and one master on each, in times that the test says.
class Exchange {
 public:
  explicit Exchange(std::uint64_t seed = 1) : bench_(testing::heated_bench(), {.seed = seed}) {
    bench_.on_write([this](const unit::WriteSeen& write) { written.push_back(write.asked); });
  }

  /// As `tell` would, at the present time.
  void perform(const std::string& text) {
    const auto action = faults::parse_action(bench_.spec(), text);
    REQUIRE_MESSAGE(action, text << ": " << (action ? "" : action.error()));
    faults::carry_out(bench_, *action, now_);
  }
  /// Moves on to an instant, through whatever is due before it.
  void go_to(SimTime when) {
    while (const auto next = bench_.timers().next()) {
      if (*next > when) break;
      bench_.timers().run(*next);
    }
    now_ = when;
  }
  /// Sends a frame and listens for a second.
  std::vector<Heard> send(std::size_t line, const Bytes& frame) {
    bench::LineSession& session = line == kField ? field_ : ethernet_;
    const SimTime sent = now_;
    std::vector<Heard> heard;
    const auto listen = [&](SimTime when) {
      for (const auto& piece : session.poll(when)) {
        session.sent(piece, piece.due);
        heard.push_back({piece.due - sent, piece.bytes});
      }
    };
    session.receive(frame, sent);
    listen(sent);
    while (session.wake_at() && *session.wake_at() < sent + 1s) listen(*session.wake_at());
    go_to(sent + 1s);
    return heard;
  }
  /// The frame of a request on a line.
  static Bytes frame(std::size_t line, const Bytes& pdu, std::uint8_t id = 1) {
    return line == kField ? modbus::rtu_frame(id, pdu) : modbus::mbap_frame(7, id, pdu);
  }
  std::vector<Heard> ask(std::size_t line, const Bytes& pdu, std::uint8_t id = 1) {
    return send(line, frame(line, pdu, id));
  }

  [[nodiscard]] bench::Bench& bench() { return bench_; }
  [[nodiscard]] SimTime now() const { return now_; }
  /// The last sentence of the journal about `subject`.
  [[nodiscard]] std::string last_note(const std::string& subject) {
    std::string sentence;
    for (const auto& entry : bench_.journal().entries())
      if (entry.subject == subject) sentence = entry.sentence;
    return sentence;
  }

  std::vector<double> written;  ///< values that writes asked for, as the unit saw them

 private:
  bench::Bench bench_;
  bench::LineSession field_{bench_, kField, "plc", {}};
  bench::LineSession ethernet_{bench_, kEthernet, "plc", {}};
  SimTime now_{10s};
};

inline const Bytes kWrite{0x06, 0x00, 0x00, 0x01, 0xF4};              ///< PDU: setpoint 50 %
inline const Bytes kReadTwo{0x03, 0x00, 0x00, 0x00, 0x02};            ///< PDU: setpoint and state
inline const Bytes kTwoAnswered{0x03, 0x04, 0x00, 0x00, 0x00, 0x03};  ///< PDU: 0 % and running

/// How long after a request an answer of so many characters is through on the RTU line (19200 8E1).
inline Duration rtu_after(std::size_t characters) { return t3_5({}) + characters_time({}, characters); }

}  // namespace emberline::testing

#include <optional>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/bench/line_session.hpp"
#include "sim/io/panel/traffic_feed.hpp"
#include "tests/sim/io/panel/hub_rig.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using Fate = io::TrafficFeed::Fate;

namespace {

/// A master's connection to the line that speaks Modbus TCP, and what the panel makes of it.
class Connection {
 public:
  Connection() : spec_(test::small_bench()), facts_(spec_, {}), bench_(spec_), feed_(facts_) {
    std::size_t line = 0;
    while (spec_.lines[line].kind != bench::LineKind::tcp) ++line;
    bench_.lines().add_observer(tap_);
    session_.emplace(bench_, line, "192.0.2.1:500", bench::LineSession::Options{});
  }
  ~Connection() { bench_.lines().remove_observer(tap_); }
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;

  /// One segment of the stream, and all answers to what came whole with it.
  void receive(const std::vector<modbus::Bytes>& parts) {
    modbus::Bytes segment;
    for (const auto& part : parts) segment.insert(segment.end(), part.begin(), part.end());
    session_->receive(segment, now_);
    for (const auto& answer : session_->poll(now_)) session_->sent(answer, now_);
    std::vector<io::LineEvent> events;
    REQUIRE(tap_.hand_over());
    tap_.fetch(events);
    feed_.take(events);
  }
  /// What stands in the panel, such as "1 2! <1": a request, something broken, the answer to the first frame;
  /// "1?" for a request that is said to have no answer.
  std::string shown() const {
    std::string text;
    for (const auto& frame : feed_.frames()) {
      if (!text.empty()) text += ' ';
      text += frame.to_units ? std::to_string(frame.n) : "<" + std::to_string(frame.request);
      if (frame.broken) text += '!';
      if (io::TrafficFeed::fate(frame, now_ + 10s) == Fate::no_answer) text += '?';
    }
    return text;
  }
  const io::TrafficFeed& feed() const { return feed_; }

 private:
  bench::BenchSpec spec_;
  io::BenchFacts facts_;
  bench::Bench bench_;
  io::TrafficTap tap_;
  io::TrafficFeed feed_;
  std::optional<bench::LineSession> session_;
  SimTime now_{1s};
};

const modbus::Bytes kGood{0, 1, 0, 0, 0, 6, 1, 0x03, 0, 0x30, 0, 1};
const modbus::Bytes kForeign{0, 9, 0, 7, 0, 3, 1, 2, 3};                         // protocol id 7
const modbus::Bytes kContradicted{0, 2, 0, 0, 0, 7, 1, 0x03, 0, 0x30, 0, 1, 0};  // a read has 5 bytes of PDU

modbus::Bytes part(const modbus::Bytes& bytes, std::size_t first, std::size_t end) {
  return {bytes.begin() + static_cast<std::ptrdiff_t>(first),
          bytes.begin() + static_cast<std::ptrdiff_t>(end)};
}

}  // namespace

TEST_CASE("a frame of another protocol puts answers beside wrong requests") {
  Connection connection;
  SUBCASE("in one segment with a request") { connection.receive({kForeign, kGood}); }
  SUBCASE("with the beginning of a request") {
    connection.receive({kForeign, part(kGood, 0, 3)});
    connection.receive({part(kGood, 3, kGood.size())});
  }
  SUBCASE("its header first") {
    connection.receive({part(kForeign, 0, 6)});
    connection.receive({part(kForeign, 6, kForeign.size()), kGood});
  }
  connection.receive({kGood, kGood});
  CHECK(connection.shown() == "1! 2 <2 4 5 <4 <5");
  CHECK(connection.feed().frames()[0].bytes == kForeign);
}

TEST_CASE("a good request is marked broken in place of the rubbish behind it") {
  Connection connection;
  connection.receive({kGood, modbus::Bytes(5, 0xEE)});
  connection.receive({modbus::Bytes(300, 0xEE)});
  CHECK(connection.shown() == "1 <1 3!");
  CHECK(connection.feed().frames()[2].bytes == modbus::Bytes(260, 0xEE));
}

TEST_CASE("behind a length that is contradicted, what looks like a request is shown as one") {
  Connection connection;
  connection.receive({kGood, kContradicted, kGood});
  CHECK(connection.shown() == "1 2! <1");
  modbus::Bytes shown = kContradicted;
  shown.insert(shown.end(), kGood.begin(), kGood.end());
  CHECK(connection.feed().frames()[1].bytes == shown);
}

TEST_CASE("of many requests at once, those that have waited longest are said to have no answer") {
  Connection connection;
  connection.receive(std::vector<modbus::Bytes>(200, kGood));
  CHECK(connection.shown().find('?') == std::string::npos);
}

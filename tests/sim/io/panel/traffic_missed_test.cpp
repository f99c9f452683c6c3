#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/panel/traffic_feed.hpp"
#include "tests/sim/io/panel/hub_rig.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using Fate = io::TrafficFeed::Fate;

namespace {

/// A tap and what is made of it, with a line of this kind; the test says when anything is fetched.
class Watched {
 public:
  explicit Watched(bench::LineKind kind = bench::LineKind::tcp)
      : spec_(test::small_bench()), facts_(spec_, {}), feed_(facts_) {
    go_to(kind);
  }
  void begin(std::uint64_t session, const std::string& master) {
    tap_.session_began({session, line_, master, now_, {}});
  }
  void end(std::uint64_t session) { tap_.session_ended({session, line_, "", now_, {}}); }
  void frame(std::uint64_t session, std::uint64_t number) {
    tap_.bytes({session, line_, false, now_, kFrame});
    tap_.frame({session, number, line_, now_, kFrame});
  }
  void request(std::uint64_t session, std::uint64_t number) {
    bench::RequestSeen seen;
    seen.session = session;
    seen.number = number;
    seen.line = line_;
    seen.at = now_;
    seen.unit_id = 1;
    seen.addressed = true;
    seen.pdu = kQuery;
    seen.answer = kQuery;
    seen.query_size = seen.answer_size = kFrame.size();
    tap_.request(seen);
  }
  void answer(std::uint64_t session, std::uint64_t number) {
    tap_.bytes({session, line_, true, now_, kFrame});
    tap_.answer({session, number, line_, "", now_, false, kFrame});
  }
  /// A request that comes whole and is answered at once.
  void ask(std::uint64_t session, std::uint64_t number) {
    pass(10us);
    frame(session, number);
    request(session, number);
    answer(session, number);
  }
  /// A connection that begins with a request which has no answer yet; the number of its frame.
  std::uint64_t begin_with_one_open() {
    begin(1, "192.0.2.1:500");
    frame(1, 1);
    request(1, 1);
    fetch();
    return feed_.last();
  }
  void pass(Duration time) { now_ += time; }
  void fetch() {
    std::vector<io::LineEvent> events;
    REQUIRE(tap_.hand_over());
    tap_.fetch(events);
    feed_.take(events);
  }
  /// So much that a part is missed, over connections that come and go meanwhile.
  void miss_some(std::uint64_t first_session) {
    for (std::uint64_t n = 0; n < io::TrafficTap::kMost / 5; ++n) {
      begin(first_session + n, "192.0.2.9:" + std::to_string(n));
      ask(first_session + n, 1);
      end(first_session + n);
    }
  }
  const io::TrafficFeed& feed() const { return feed_; }
  io::TrafficFeed::Busy busy() const { return feed_.busy(line_, now_); }
  /// From now on all is on a line of this kind.
  void go_to(bench::LineKind kind) {
    for (std::size_t n = 0; n < spec_.lines.size(); ++n)
      if (spec_.lines[n].kind == kind) line_ = n;
    REQUIRE(spec_.lines[line_].kind == kind);
  }
  /// The latest frame, counted from the end.
  const io::TrafficFeed::Frame& latest(std::size_t back = 0) const {
    return feed_.frames()[feed_.frames().size() - 1 - back];
  }
  SimTime later() const { return now_ + 10s; }

  static inline const modbus::Bytes kQuery{0x03, 0, 0, 0, 1};
  static inline const modbus::Bytes kFrame{0, 1, 0, 0, 0, 6, 1, 0x03, 0, 0, 0, 1};

 private:
  bench::BenchSpec spec_;
  io::BenchFacts facts_;
  std::size_t line_ = 0;
  io::TrafficTap tap_;
  io::TrafficFeed feed_;
  SimTime now_{1s};
};

}  // namespace

TEST_CASE("a connection whose end was missed is kept for ever, or one that goes on loses its master") {
  Watched watched;
  watched.begin(1, "192.0.2.1:500");
  watched.ask(1, 1);
  watched.fetch();
  CHECK(watched.feed().open() == 1);
  std::uint64_t number = 1;
  for (std::uint64_t round = 1; round <= 3; ++round) {
    CAPTURE(round);
    watched.miss_some(round * 1'000'000);
    for (int n = 0; n < 10; ++n) watched.ask(1, ++number);  // missed as well
    watched.fetch();
    watched.ask(1, ++number);  // tells that something was missed
    watched.fetch();
    CHECK(watched.feed().open() == 1);
    // From there on all is as if nothing had been.
    watched.ask(1, ++number);
    watched.ask(1, ++number);
    watched.fetch();
    const auto& asked = watched.latest(1);
    CHECK(watched.latest().master == "192.0.2.1:500");
    CHECK(watched.latest().request == asked.n);
    CHECK(watched.feed().fate(asked, watched.later()) == Fate::settled);
  }
  watched.end(1);
  watched.fetch();
  CHECK(watched.feed().open() == 0);
}

TEST_CASE("a request is said to have no answer where its answer was missed") {
  Watched watched;
  watched.begin(1, "192.0.2.1:500");
  watched.ask(1, 1);
  watched.frame(1, 2);
  watched.request(1, 2);
  watched.fetch();
  const auto waits = watched.feed().last();
  CHECK(watched.feed().fate(*watched.feed().frame(waits), watched.later()) == Fate::no_answer);
  watched.miss_some(100);
  watched.miss_some(1'000'000);
  watched.answer(1, 2);
  watched.pass(io::TrafficFeed::kPatience);  // within what is missed: what comes later does not count
  watched.fetch();
  watched.ask(1, 3);
  watched.ask(1, 4);
  watched.fetch();
  CHECK(watched.feed().open() == 1);
  for (const auto& frame : watched.feed().frames()) {
    if (frame.session != 1) continue;
    CHECK(watched.feed().fate(frame, watched.later()) == Fate::settled);
  }
  // One that is really not answered is told again.
  watched.frame(1, 5);
  watched.request(1, 5);
  watched.fetch();
  CHECK(watched.feed().fate(watched.latest(), watched.later()) == Fate::no_answer);
}

TEST_CASE("a request that had no answer in time is forgiven for what was missed later") {
  Watched watched;
  const auto waits = watched.begin_with_one_open();
  watched.pass(io::TrafficFeed::kPatience);
  watched.miss_some(100);
  watched.miss_some(1'000'000);
  watched.fetch();
  watched.ask(1, 2);
  watched.fetch();
  CHECK(watched.feed().open() == 1);
  CHECK(watched.feed().fate(*watched.feed().frame(waits), watched.later()) == Fate::no_answer);
}

TEST_CASE("behind what was missed, an answer stands beside another request while requests are held up") {
  Watched watched;
  watched.begin(1, "192.0.2.1:500");
  watched.ask(1, 1);
  for (std::uint64_t number = 2; number <= 4; ++number) watched.frame(1, number);
  watched.miss_some(100);
  watched.miss_some(1'000'000);
  watched.frame(1, 5);  // missed as well
  watched.fetch();
  watched.begin(2, "192.0.2.2:500");  // tells that something was missed
  watched.frame(1, 6);
  watched.frame(1, 7);
  watched.fetch();
  const auto sixth = watched.latest(1).n;
  CHECK(watched.feed().fate(watched.latest(), watched.later()) == Fate::no_answer);
  for (std::uint64_t number = 2; number <= 7; ++number) {
    CAPTURE(number);
    watched.request(1, number);
    watched.answer(1, number);
    watched.fetch();
    CHECK(watched.latest().request == (number < 6 ? 0 : sixth + number - 6));
  }
  CHECK(watched.feed().fate(*watched.feed().frame(sixth + 1), watched.later()) == Fate::settled);
}

TEST_CASE("what was missed counts less than if it had been seen, or for other masters") {
  for (const auto kind : {bench::LineKind::tcp, bench::LineKind::pty}) {
    Watched seen(kind), missed(kind);
    for (Watched* watched : {&seen, &missed}) {
      watched->begin(1, "192.0.2.1:500");
      watched->begin(2, "192.0.2.2:500");
      std::uint64_t number = 0;
      while (++number <= io::TrafficTap::kMost / 4) {
        watched->ask(1, number);
        if (watched == &seen) watched->fetch();
      }
      // From here on nothing is kept, if nobody fetches.
      watched->pass(10s);
      for (int n = 0; n < 12; ++n) {
        watched->pass(100ms);
        watched->ask(1, number++);
        if (n % 3 == 0) watched->ask(2, 1 + static_cast<std::uint64_t>(n / 3));
        if (n % 4 == 0) watched->frame(1, 0);
        if (watched == &seen) watched->fetch();
      }
      watched->fetch();
    }
    const auto expected = seen.busy();
    auto busy = missed.busy();
    CHECK(busy.requests == expected.requests);
    CHECK(busy.broken == expected.broken);
    CHECK(busy.last_request_age == expected.last_request_age);
    CHECK(busy.per_second == doctest::Approx(expected.per_second));
    CHECK(busy.time_share.has_value() == (kind == bench::LineKind::pty));
    CHECK(busy.time_share.value_or(0.0) == doctest::Approx(expected.time_share.value_or(0.0)));
    CHECK(busy.askers.empty());  // who they were is not known
    // Where some of them were seen, the rest was asked as those were.
    for (std::uint64_t number = 1; number <= 4; ++number) {
      missed.ask(1, 1'000'000 + number);
      if (number == 4) missed.ask(2, 1'000'000);
    }
    missed.fetch();
    busy = missed.busy();
    REQUIRE(busy.askers.size() == 2);
    CHECK(busy.askers[0].per_second == doctest::Approx(busy.per_second * 4 / 5));
    CHECK(busy.askers[1].per_second == doctest::Approx(busy.per_second / 5));
  }
}

TEST_CASE("a part of a burst is missed that the bound has room for") {
  Watched watched;
  watched.begin(1, "192.0.2.1:500");
  std::uint64_t number = 0;
  while (number < (io::TrafficTap::kMost - 1) / 4) watched.ask(1, ++number);
  watched.fetch();
  CHECK(watched.feed().last() == 2 * number);
  CHECK(watched.feed().frames().size() == 2 * number);
}

TEST_CASE("what another line carries too fast hides that a request has no answer, or counts for this one") {
  Watched watched;
  const auto waits = watched.begin_with_one_open();
  const auto quiet = watched.busy();
  watched.go_to(bench::LineKind::pty);
  watched.begin(2, "tester");
  std::uint64_t number = 0;
  for (int burst = 0; burst < 4; ++burst) {
    for (std::size_t n = 0; n < io::TrafficTap::kMost / 2; ++n) watched.ask(2, ++number);
    watched.pass(600ms);
    watched.fetch();
  }
  CHECK(watched.busy().requests == number);
  CHECK(watched.feed().open() == 2);
  watched.go_to(bench::LineKind::tcp);
  CHECK(watched.busy().requests == quiet.requests);
  CHECK(watched.busy().last_request_age > 2s);
  CHECK(watched.busy().per_second == 0.0);
  REQUIRE(watched.feed().frame(waits) != nullptr);
  CHECK(watched.feed().fate(*watched.feed().frame(waits), watched.later()) == Fate::no_answer);
}

TEST_CASE("a rate is told too high when what was missed took longer than what a rate is over") {
  Watched watched;
  watched.begin(1, "192.0.2.1:500");
  std::uint64_t number = 0;
  while (number < io::TrafficTap::kMost) watched.ask(1, ++number);
  for (int n = 0; n < 100; ++n) {  // ten seconds, ten a second
    watched.pass(100ms);
    watched.ask(1, ++number);
  }
  watched.fetch();
  CHECK(watched.busy().requests == number);
  // All that was missed counts as evenly spread: what the first instant of it had is spread, too.
  const double missed = static_cast<double>(io::TrafficTap::kMost) * 3 / 4 + 100;
  CHECK(watched.busy().per_second == doctest::Approx(missed / 10).epsilon(0.02));
  watched.pass(10s);
  CHECK(watched.busy().per_second == 0.0);
}

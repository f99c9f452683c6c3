#include "sim/bench/event_loop.hpp"

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

using namespace emberline;
using namespace std::chrono_literals;
using bench::EventLoop;
using bench::EventSource;
using bench::Rank;

namespace {

SimTime at(Duration since_start) { return SimTime{since_start}; }

/// Fires at given instants and writes down that it did.
class Scripted final : public EventSource {
 public:
  Scripted(std::string name, std::vector<SimTime> times, std::string& log)
      : name_(std::move(name)), times_(std::move(times)), log_(log) {}
  [[nodiscard]] std::optional<SimTime> next() const override {
    return times_.empty() ? std::nullopt : std::optional(times_.front());
  }
  void run(SimTime now) override {
    log_ += name_ + "@" + std::to_string(now.time_since_epoch() / 1ms) + " ";
    while (!times_.empty() && times_.front() <= now) times_.erase(times_.begin());
    if (then) std::exchange(then, nullptr)();
  }
  void also(SimTime time) { times_.insert(times_.begin(), time); }
  std::function<void()> then;

 private:
  std::string name_;
  std::vector<SimTime> times_;
  std::string& log_;
};

}  // namespace

TEST_CASE("at one instant frames come before timers, timeline, stand-ins, grid and expectations") {
  std::string log;
  Scripted expectation("expect", {at(5ms)}, log), grid("grid", {at(5ms)}, log),
      master("master", {at(5ms)}, log), timeline("timeline", {at(5ms)}, log), timer("timer", {at(5ms)}, log),
      frame("frame", {at(5ms)}, log);
  EventLoop loop;  // added the wrong way round on purpose: the rank decides
  loop.add(Rank::expectations, expectation);
  loop.add(Rank::grid, grid);
  loop.add(Rank::stand_ins, master);
  loop.add(Rank::timeline, timeline);
  loop.add(Rank::timers, timer);
  loop.add(Rank::frames, frame);
  loop.run_through(at(4ms));
  log.clear();
  loop.run_through(at(10ms));
  CHECK(log == "frame@5 timer@5 timeline@5 master@5 grid@5 expect@5 ");
  CHECK(loop.now() == at(10ms));
}

TEST_CASE("what expectations bring about at an instant is done at it, the last of a run included") {
  for (const auto end : {10ms, 5ms}) {
    CAPTURE(end.count());
    std::string log;
    Scripted timeline("timeline", {}, log), grid("grid", {at(5ms)}, log),
        expectation("expect", {at(5ms)}, log);
    EventLoop loop;
    loop.add(Rank::timeline, timeline);
    loop.add(Rank::grid, grid);
    loop.add(Rank::expectations, expectation);
    loop.run_through(at(4ms));
    log.clear();
    expectation.then = [&] { timeline.also(at(5ms)); };
    loop.run_through(at(end));
    CHECK(log == "grid@5 expect@5 timeline@5 expect@5 ");
  }
}

TEST_CASE("what an instant causes at that instant is taken before grid and expectations") {
  std::string log;
  Scripted frame("frame", {}, log), master("master", {at(5ms)}, log), grid("grid", {at(5ms)}, log),
      expectation("expect", {at(5ms)}, log);
  master.then = [&] { frame.also(at(5ms)); };
  EventLoop loop;
  loop.add(Rank::frames, frame);
  loop.add(Rank::stand_ins, master);
  loop.add(Rank::grid, grid);
  loop.add(Rank::expectations, expectation);
  loop.run_through(at(4ms));
  log.clear();
  loop.run_through(at(5ms));
  CHECK(log == "master@5 frame@5 grid@5 expect@5 ");
}

TEST_CASE("run_before leaves what is due at the instant, so that bytes of that instant come first") {
  std::string log;
  Scripted timer("timer", {at(3ms), at(5ms)}, log);
  EventLoop loop;
  loop.add(Rank::timers, timer);
  loop.run_before(at(5ms));
  CHECK(log == "timer@3 ");
  CHECK(loop.now() == at(5ms));
  loop.run_through(at(5ms));
  CHECK(log == "timer@3 timer@5 ");
}

TEST_CASE("expectations are looked at after something from outside changed the bench") {
  std::string log;
  Scripted expectation("expect", {}, log);
  EventLoop loop;
  loop.add(Rank::expectations, expectation);
  loop.run_through(at(1ms));
  log.clear();
  loop.run_through(at(2ms));
  CHECK(log.empty());
  loop.touched();
  loop.run_through(at(2ms));
  CHECK(log == "expect@2 ");
}

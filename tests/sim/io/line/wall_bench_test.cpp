#include <algorithm>

#include <doctest/doctest.h>

#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

/// Notes at which simulated times it was run; due every millisecond.
class Ticks final : public bench::EventSource {
 public:
  [[nodiscard]] std::optional<SimTime> next() const override { return next_; }
  void run(SimTime now) override {
    late_ = late_ || now != next_;
    next_ += std::chrono::milliseconds{1};
    ++count_;
  }
  [[nodiscard]] std::uint64_t count() const { return count_; }
  [[nodiscard]] bool late() const { return late_; }

 private:
  SimTime next_{};
  std::uint64_t count_ = 0;
  bool late_ = false;
};

}  // namespace

TEST_CASE("everything due runs at its exact simulated time, however late the machine is") {
  bench::Bench bench(small_bench());
  bench::EventLoop loop;
  Ticks ticks;
  loop.add(bench::Rank::timers, ticks);
  io::WallBench wall(bench, loop, {});
  REQUIRE(wall.open());
  std::uint64_t at_task = 0;
  SimTime task_time{};
  // The machine stalls for 50 ms: a task that takes that long on the bench's thread.
  wall.post([&](SimTime) {
    const SimTime end = wall.now() + std::chrono::milliseconds{50};
    while (wall.now() < end) {
    }
  });
  wall.post([&](SimTime at) {
    at_task = ticks.count();
    task_time = at;
    wall.stop();
  });
  wall.run();
  CHECK_FALSE(ticks.late());
  CHECK(task_time >= SimTime{std::chrono::milliseconds{50}});
  // 0, 1, 2 ... ms: all strictly before the task have run, one at its own instant not yet.
  const auto before = (task_time.time_since_epoch() - Duration{1}) / std::chrono::milliseconds{1} + 1;
  CHECK(at_task == static_cast<std::uint64_t>(before));
}

TEST_CASE("tasks of other threads run in the order they came, at times that never go back") {
  Running running(small_bench());
  running.go();
  std::vector<int> order;
  SimTime last{};
  bool went_back = false;
  for (int i = 0; i < 100; ++i) {
    running.wall().post([&, i](SimTime at) {
      went_back = went_back || at < last;
      last = at;
      order.push_back(i);
    });
  }
  running.ask([](bench::Bench&, SimTime) { return true; });
  running.stop();
  CHECK_FALSE(went_back);
  REQUIRE(order.size() == 100);
  CHECK(std::is_sorted(order.begin(), order.end()));
}

TEST_CASE("stopping before running ends running at once") {
  Running running(small_bench());
  running.wall().stop();
  running.go();
  running.stop();
}

TEST_CASE("a watchdog runs out on the wall clock with nobody asking") {
  bench::BenchSpec spec = small_bench();
  auto& watchdog = spec.units[0].unit.comms_loss;
  watchdog.timeout = std::chrono::milliseconds{30};
  watchdog.policy = registers::Policy::latch_to_inhibit;
  Running running(std::move(spec));
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  master.send({0, 1, 0, 0, 0, 6, 1, 0x03, 0x00, 0x30, 0x00, 0x01});
  REQUIRE(master.receive(11).size() == 11);
  const Deadline deadline;
  while (running.ask([](bench::Bench& bench, SimTime) { return bench.unit(0).state(); }) !=
         registers::State::inhibited) {
    deadline.check();
    std::this_thread::yield();
  }
}

#pragma once

#include <algorithm>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/io/master/stepped_masters.hpp"
#include "sim/polling/plan_requests.hpp"
#include "sim/polling/poll_plan.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::testing {

/// The program that does what a plan says, writes too.
inline rehearsal::MasterSpec program_of(const polling::PollPlan& plan, Duration starts) {
  rehearsal::MasterSpec master;
  master.name = "plc";
  master.lines = {plan.wish.bench->lines[plan.wish.line].name};
  master.timeout = plan.wish.master.timeout;
  master.retries = plan.wish.master.retries;
  master.retry_after = plan.wish.master.retry_after;
  master.poll_lost_every = plan.wish.master.poll_lost_every;
  if (master.poll_lost_every) master.lost_after = 1;
  master.starts = SimTime{starts};
  for (const polling::PlannedRequest& request : plan.requests) {
    rehearsal::ProgramStep step;
    step.every = request.every;
    step.phase = request.phase;
    const auto& wanted = request.write ? plan.wish.writes : plan.wish.reads;
    const auto target = [&](std::size_t place) {
      return rehearsal::resolve_target(*plan.wish.bench, wanted[place].name, request.write).value();
    };
    if (request.write) {
      step.kind = rehearsal::ProgramStep::Kind::write;
      step.writes = {{target(request.brings.front()), 0.25}};
    } else {
      step.block = request.range;
      for (const std::size_t place : request.brings) step.reads.push_back(target(place));
    }
    master.program.push_back(std::move(step));
  }
  return master;
}

/// How old each request's values were at worst when the next answer came, by id, function, first address.
class Ages final : public bench::LineObserver {
 public:
  using Key = std::tuple<int, int, int>;
  void request(const bench::RequestSeen& seen) override {
    const Key key{seen.unit_id, seen.pdu[0], seen.pdu[1] << 8 | seen.pdu[2]};
    asked_[{seen.session, seen.number}] = {key, seen.asked_at};
    if (!seen.answer.empty() && (seen.answer[0] & 0x80u) != 0) ++refusals;
    if (first_ == SimTime{}) first_ = seen.at;
    last_ = seen.at;
  }
  void answer(const bench::AnswerSeen& seen) override {
    const auto& [key, asked_at] = asked_.at({seen.session, seen.number});
    if (const auto before = taken_up_.find(key); before != taken_up_.end())
      worst[key] = std::max(worst[key], Duration{seen.at - before->second});
    taken_up_[key] = asked_at;
    ++answers;
  }
  std::map<Key, Duration> worst;
  int refusals = 0;
  int answers = 0;

 private:
  std::map<std::pair<std::uint64_t, std::uint64_t>, std::pair<Key, SimTime>> asked_;
  std::map<Key, SimTime> taken_up_;
  SimTime first_{};
  SimTime last_{};
};

/// A bench in stepped time on which a plan is carried out.
class SteppedPlan {
 public:
  static constexpr Duration kStarts = std::chrono::seconds{3};  ///< units have started up

  SteppedPlan(const polling::PollPlan& plan, bench::BenchSpec spec) : bench_(std::move(spec)) {
    bench_.lines().add_observer(ages);
    masters_ = std::make_unique<io::SteppedMasters>(bench_, std::vector{program_of(plan, kStarts)});
    loop_.add(bench::Rank::frames, masters_->wire());
    loop_.add(bench::Rank::timers, bench_.timers());
    loop_.add(bench::Rank::timeline, death_);
    loop_.add(bench::Rank::stand_ins, masters_->stand_ins());
    loop_.add(bench::Rank::grid, bench_.grid());
  }
  /// A unit loses its control supply, so long after the program began.
  void dies(std::size_t unit, Duration after) {
    death_.at = SimTime{kStarts + after};
    death_.what = [this, unit] { bench_.set_unit_powered(unit, false, *death_.at); };
  }
  void run(Duration length) { loop_.run_through(SimTime{kStarts + length}); }
  [[nodiscard]] bool comms_lost(const std::string& unit) {
    const auto& entries = bench_.journal().entries();
    return std::any_of(entries.begin(), entries.end(), [&](const auto& entry) {
      return entry.subject == unit && entry.sentence.starts_with("comms lost");
    });
  }

  Ages ages;

 private:
  struct Death final : bench::EventSource {
    std::optional<SimTime> at;
    std::function<void()> what;
    [[nodiscard]] std::optional<SimTime> next() const override { return at; }
    void run(SimTime now) override {
      if (!at || now < *at) return;
      what();
      at.reset();
    }
  };
  bench::Bench bench_;
  bench::EventLoop loop_;
  Death death_;
  std::unique_ptr<io::SteppedMasters> masters_;
};

}  // namespace emberline::testing

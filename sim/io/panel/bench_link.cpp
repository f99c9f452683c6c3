#include "sim/io/panel/bench_link.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

namespace emberline::io {

BenchLink::BenchLink(WallBench& wall, bench::Bench& bench, std::vector<OpenLine> places)
    : facts_(bench.spec(), std::move(places)), bench_(&bench), wall_(&wall) {
  bench.lines().add_observer(tap_);
  bench.on_action([this](const bench::ActionDone& done) {
    in_force_.done(done);
    in_force_changed_ = true;
    last_undo_ = done.undo;
  });
  deliver(wall.begun() ? wall.now() : SimTime{}, 0);
}

void BenchLink::close() {
  {
    const std::lock_guard lock(gate_);
    wall_ = nullptr;
  }
  closed_ = true;
  if (bench_ == nullptr) return;
  bench_->lines().remove_observer(tap_);
  bench_->on_action({});
  bench_ = nullptr;
}

bool BenchLink::post(Task task) {
  const std::lock_guard lock(gate_);
  if (wall_ == nullptr) return false;
  wall_->post([self = shared_from_this(), task = std::move(task)](SimTime at) {
    if (self->bench_ != nullptr) task(*self->bench_, at);
  });
  return true;
}

void BenchLink::ask() {
  if (asked_ != arrived_) return;
  const auto number = asked_ + 1;
  if (post([this, number](bench::Bench&, SimTime at) { deliver(at, number); })) asked_ = number;
}

void BenchLink::deliver(SimTime at, std::uint64_t number) {
  const bool tap_free = tap_.hand_over();
  take_snapshot(*bench_, facts_, at, next_);
  const std::unique_lock lock(mailbox_, std::try_to_lock);
  // One is being emptied: a moment later, instead of waiting for whoever does that.
  if (!tap_free || !lock.owns_lock()) {
    wall_->post([self = shared_from_this(), number](SimTime now) {
      if (self->bench_ != nullptr) self->deliver(now, number);
    });
    return;
  }
  const auto& entries = bench_->journal().entries();
  if (!mail_.snapshot) mail_.snapshot.emplace();
  std::swap(*mail_.snapshot, next_);
  mail_.number = number;
  const auto forgotten = bench_->journal().forgotten();
  const auto untold = static_cast<std::ptrdiff_t>(std::max(entries_told_, forgotten) - forgotten);
  mail_.entries.insert(mail_.entries.end(), entries.begin() + untold, entries.end());
  entries_told_ = forgotten + entries.size();
  if (std::exchange(in_force_changed_, false)) mail_.in_force = in_force_.entries();
}

BenchLink::Mail BenchLink::fetch() {
  Mail fetched;
  {
    const std::lock_guard lock(mailbox_);
    fetched = std::exchange(mail_, Mail{});
  }
  if (fetched.snapshot) arrived_ = fetched.number;
  fetched.number = arrived_;
  return fetched;
}

std::string BenchLink::carry_out(const faults::Action& action, SimTime at) {
  last_undo_.clear();
  faults::carry_out(*bench_, action, at);
  return last_undo_;
}

}  // namespace emberline::io

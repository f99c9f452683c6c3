#include "sim/io/panel/panel_hub.hpp"

#include <algorithm>
#include <utility>

#include "sim/io/panel/hub_core.hpp"
#include "sim/io/panel/json_bits.hpp"
#include "sim/io/panel/state_json.hpp"
#include "sim/io/panel/traffic_json.hpp"
#include "sim/unit/state.hpp"

namespace emberline::io {
namespace {

constexpr std::size_t kEntriesAMessage = 200;
constexpr std::size_t kFramesAMessage = 100;

}  // namespace

// --- the bench that runs

void PanelHub::Impl::attach(WallBench& wall, bench::Bench& bench, std::vector<OpenLine> places) {
  auto link = std::make_shared<BenchLink>(wall, bench, std::move(places));
  std::shared_ptr<BenchLink> before;
  {
    const std::lock_guard lock(current_mutex_);
    before = std::exchange(current_, std::move(link));
  }
  if (before) before->close();
}

void PanelHub::Impl::detach() {
  std::shared_ptr<BenchLink> ended;
  {
    const std::lock_guard lock(current_mutex_);
    ended = std::exchange(current_, nullptr);
  }
  if (ended) ended->close();
}

void PanelHub::Impl::collect() {
  std::shared_ptr<BenchLink> current;
  {
    const std::lock_guard lock(current_mutex_);
    current = current_;
  }
  if ((run ? run->link : nullptr) != current) {
    run.reset();
    if (current) {
      run = std::make_unique<Run>(std::move(current));
      ++generation;
    }
  }
  if (!run) return;
  auto mail = run->link->fetch();
  run->number = mail.number;
  run->journal.take(std::move(mail.entries));
  run->link->fetch_traffic(run->events);
  run->traffic.take(run->events);
  if (mail.in_force) run->in_force = std::move(*mail.in_force);
  if (!mail.snapshot) return;
  run->snapshot = std::move(*mail.snapshot);
  ++run->snapshots;
  run->trends.take(run->snapshot.at, run->snapshot.values);
  look_at_recovery();
}

void PanelHub::Impl::look_at_recovery() {
  std::vector<Recovery::Unit> units;
  for (std::size_t u = 0; u < run->facts().units.size(); ++u) {
    const auto output = run->snapshot.point(run->facts(), u, registers::Point::output);
    units.push_back({unit::delivers(run->snapshot.state(run->facts(), u)), output > 0.0});
  }
  run->recovery.look(run->snapshot.at, units);
}

void PanelHub::Impl::tick() {
  ++ticks;
  collect();
  answer_waiting();
  answer_shared();
  make_files();
  for (auto* page : pages) page->tick();
  ask_for_snapshot();
}

// --- messages to pages; those that wait for the same get the same text

std::string PanelHub::Impl::state(Role role, std::string_view type) const {
  return state_json(
      {run->facts(), run->snapshot, run->traffic, run->in_force, run->recovery, blind, hides(role)}, type);
}

namespace {

enum Audience : int { kState, kStateHidden, kJournal, kJournalHidden, kTraffic };

}  // namespace

SharedText PanelHub::Impl::state_message(Role role) {
  if (std::exchange(texts_tick_, ticks) != ticks) texts_.clear();
  auto& text = texts_[{hides(role) ? kStateHidden : kState, run->snapshots}];
  if (!text.second) text.second = std::make_shared<const std::string>(state(role, "state"));
  return text.second;
}

SharedText PanelHub::Impl::journal_message(Role role, std::uint64_t& after) {
  if (std::exchange(texts_tick_, ticks) != ticks) texts_.clear();
  auto& text = texts_[{hides(role) ? kJournalHidden : kJournal, after}];
  if (!text.second) {
    text.first = after;
    text.second =
        std::make_shared<const std::string>(run->journal.message(hides(role), text.first, kEntriesAMessage));
  }
  after = text.first;
  return text.second;
}

SharedText PanelHub::Impl::traffic_message(std::uint64_t& after) {
  if (std::exchange(texts_tick_, ticks) != ticks) texts_.clear();
  auto& text = texts_[{kTraffic, after}];
  if (!text.second) {
    JsonText json;
    json.object().key("type").text("traffic");
    // What became of each is told with it: a request waits here for its answer, though not for long.
    const auto last = run->traffic.settled(run->snapshot.at);
    put_frames(json, run->facts(), run->traffic, {after, last, kFramesAMessage, run->snapshot.at});
    json.end_object();
    text = {last, std::make_shared<const std::string>(std::move(json).finished())};
  }
  after = text.first;
  return text.second;
}

// --- the hub

PanelHub::PanelHub(Options options) : impl_(std::make_unique<Impl>(std::move(options))) {}

PanelHub::~PanelHub() { impl_->detach(); }

void PanelHub::attach(WallBench& wall, bench::Bench& bench, std::vector<OpenLine> lines) {
  impl_->attach(wall, bench, std::move(lines));
}

void PanelHub::detach() { impl_->detach(); }

void PanelHub::teach(LessonDesk& lesson) { impl_->lesson = &lesson; }

void PanelHub::handle(PanelRequest request, PanelReply reply) {
  impl_->handle(std::move(request), std::move(reply));
}

std::unique_ptr<LivePage> PanelHub::connected(Role role, LiveSink& sink) {
  impl_->collect();
  return std::make_unique<HubPage>(*impl_, role, sink);
}

void PanelHub::tick() { impl_->tick(); }

}  // namespace emberline::io

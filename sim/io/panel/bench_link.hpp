#pragma once

#include <atomic>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "sim/faults/action.hpp"
#include "sim/faults/action_in_force.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/panel/hub_facts.hpp"
#include "sim/io/panel/snapshot.hpp"
#include "sim/io/panel/traffic_tap.hpp"

namespace emberline::io {

/// One run of a bench, as the panel's thread reaches it: tasks go to the bench's thread, copies come back.
/// The bench's thread never waits for the panel's.
class BenchLink final : public std::enable_shared_from_this<BenchLink> {
 public:
  // --- on the bench's thread
  /// Watches the bench from now on. Both must stay until close().
  BenchLink(WallBench& wall, bench::Bench& bench, std::vector<OpenLine> places);
  void close();

  // --- on any thread
  [[nodiscard]] const BenchFacts& facts() const { return facts_; }
  using Task = std::function<void(bench::Bench&, SimTime)>;
  /// Lets the bench's thread do this soon; false: the run is over. A task of a run that ends is dropped.
  bool post(Task task);
  [[nodiscard]] bool closed() const { return closed_; }

  // --- on the panel's thread
  /// Asks for a snapshot, unless one is on its way.
  void ask();
  /// The number of the last snapshot that was asked for.
  [[nodiscard]] std::uint64_t asked() const { return asked_; }
  /// What has come from the bench since the last call.
  struct Mail {
    std::optional<Snapshot> snapshot;
    std::uint64_t number = 0;  ///< of the last snapshot that has come, counted from 1; 0: none asked for
    std::vector<bench::Journal::Entry> entries;
    std::optional<std::vector<faults::InForce::Entry>> in_force;  ///< when it has changed
  };
  [[nodiscard]] Mail fetch();
  void fetch_traffic(std::vector<LineEvent>& events) { tap_.fetch(events); }

  // --- in tasks, on the bench's thread
  /// Carries out an action; its own undo, if it has one.
  std::string carry_out(const faults::Action& action, SimTime at);

 private:
  void deliver(SimTime at, std::uint64_t number);

  const BenchFacts facts_;
  std::atomic<bool> closed_ = false;

  // the bench's thread
  bench::Bench* bench_;
  TrafficTap tap_;
  Snapshot next_;
  std::uint64_t entries_told_ = 0;
  faults::InForce in_force_;
  bool in_force_changed_ = true;
  std::string last_undo_;

  std::mutex gate_;  // to wall_, which the bench's thread alone changes
  WallBench* wall_;

  std::mutex mailbox_;  // to mail_
  Mail mail_;

  // the panel's thread
  std::uint64_t asked_ = 0;
  std::uint64_t arrived_ = 0;
};

}  // namespace emberline::io

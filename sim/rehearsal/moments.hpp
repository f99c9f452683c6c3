#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/rehearsal/anchor.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::rehearsal {

/// How conditions stand.
struct Held {
  bool all = false;  ///< all of them hold, `not` of what has no value, too
  /// The first whose signal has no value (NaN), when all that have one hold: whether all do cannot be told.
  const Condition* unseen = nullptr;
  [[nodiscard]] bool for_certain() const { return all && unseen == nullptr; }
  /// Only what has no value lets them hold.
  [[nodiscard]] bool by_silence() const { return all && unseen != nullptr; }
};
[[nodiscard]] Held held(const std::vector<Condition>& conditions, const bench::Bench& bench, SimTime now);

/// When the anchors of a scenario come, as the run goes. Told of everything they can hang on: the timeline
/// tells what happened, the judge what was met, and look() sees to conditions, as often as the judge looks.
class Moments {
 public:
  using Id = std::size_t;
  /// The scenario and the bench must outlive this.
  Moments(const ScenarioSpec& scenario, const bench::Bench& bench) : scenario_(scenario), bench_(bench) {}

  /// An anchor that counts from the start of the run. It must outlive this.
  Id add(const Anchor& anchor);
  /// An anchor whose conditions are looked at only from arm() on: the first instant at which they hold,
  /// holding then included. Others count from the start all the same.
  Id add_unarmed(const Anchor& anchor);
  void arm(Id id);
  /// An anchor that ends an interval. What can come again, conditions and actions, counts from begin_end()
  /// on: the first time it comes, `plus` included, at or after the beginning. Others count from the start.
  Id add_end(const Anchor& anchor);
  /// The interval has begun at `from`, which is past or `now`.
  void begin_end(Id id, SimTime from, SimTime now);
  /// When it comes, `plus` included, as soon as that is known: at that instant or before it.
  [[nodiscard]] std::optional<SimTime> at(Id id) const { return watched_[id].at; }

  /// Entry number `entry` of the timeline was begun at `at`. The moment of a cycle is later, its closing
  /// edge, if there is one; not that of what a human does, which nobody sees.
  void happened(std::size_t entry, SimTime at, bool by_human = false);
  /// The expectation of this name was met.
  void met(std::string_view expectation, SimTime at);
  /// Looks at the conditions and the closing edges that are waited for.
  void look(SimTime now);
  /// Changes whenever a further anchor has become known.
  [[nodiscard]] std::uint64_t changes() const { return changes_; }

  /// Something that happened, or was met.
  struct Happening {
    std::size_t number;  ///< no other has it
    SimTime at;
  };
  /// The first time at or after `since` that the entry, or one of the entries, of this anchor happened, or
  /// that its expectation was met, but for those of these numbers; `nth` and `plus` do not count.
  [[nodiscard]] std::optional<Happening> first_since(const Anchor& anchor, SimTime since,
                                                     const std::vector<std::size_t>& but = {}) const;

 private:
  struct Watched {
    const Anchor* anchor;
    int left;  ///< times it still has to come
    bool armed;
    bool held = false;  ///< its conditions did at the last look
    std::optional<SimTime> at{};
  };
  struct Event {
    std::optional<std::size_t> entry;
    std::string_view expectation;
    SimTime at;
  };
  Id add(const Anchor& anchor, bool armed);
  void tell(const Event& event);
  void look_at_edges(SimTime now);
  [[nodiscard]] bool speaks_of(const Anchor& anchor, const Event& event) const;
  void look_at(Watched& watched, SimTime now);
  void know(Watched& watched, SimTime at);

  const ScenarioSpec& scenario_;
  const bench::Bench& bench_;
  std::vector<Watched> watched_;
  std::vector<Id> waiting_for_conditions_;
  std::vector<Event> events_;
  /// A cycle whose closing edge is still to come.
  struct Edge {
    std::size_t entry;
    SimTime begun;
    SimTime latest;  ///< when it comes if nothing else closes the wire, or holds it open
  };
  std::vector<Edge> edges_;
  std::uint64_t changes_ = 0;
};

}  // namespace emberline::rehearsal

#pragma once

#include <algorithm>
#include <cstddef>
#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::bench {

/// The soonest of many instants, each of which changes by itself: asking costs the same however many there
/// are, and a change little (a tournament: every node has the sooner one of the two below it).
class Soonest {
 public:
  /// `count` instants, all never.
  explicit Soonest(std::size_t count) {
    while (leaves_ < count) leaves_ *= 2;
    nodes_.assign(2 * leaves_, kNever);
  }

  /// From now on number `index` is at `when`; nothing: never.
  void set(std::size_t index, std::optional<SimTime> when) {
    std::size_t node = leaves_ + index;
    const SimTime at = when.value_or(kNever);
    if (nodes_[node] == at) return;
    nodes_[node] = at;
    while (node > 1) {
      node /= 2;
      const SimTime sooner = std::min(nodes_[2 * node], nodes_[2 * node + 1]);
      if (nodes_[node] == sooner) return;
      nodes_[node] = sooner;
    }
  }

  [[nodiscard]] std::optional<SimTime> first() const {
    return nodes_[1] == kNever ? std::nullopt : std::optional(nodes_[1]);
  }

  /// The lowest number from `from` on that is at or before `now`; nothing if there is none.
  [[nodiscard]] std::optional<std::size_t> due(std::size_t from, SimTime now) const {
    if (now == kNever || from >= leaves_) return std::nullopt;
    std::size_t node = leaves_ + from;
    // Up, as long as nothing is due in what lies from here to the right under the same node ...
    while (nodes_[node] > now) {
      while (node % 2 == 1) {
        node /= 2;
        if (node <= 1) return std::nullopt;
      }
      ++node;
    }
    // ... and down again to the leftmost that is.
    while (node < leaves_) node = nodes_[2 * node] <= now ? 2 * node : 2 * node + 1;
    return node - leaves_;
  }

 private:
  static constexpr SimTime kNever = SimTime::max();
  std::size_t leaves_ = 1;      ///< a power of two
  std::vector<SimTime> nodes_;  ///< [1] is the top, [2 n] and [2 n + 1] are below [n]
};

}  // namespace emberline::bench

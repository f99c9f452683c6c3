#include "sim/polling/phases.hpp"

#include <algorithm>
#include <numeric>
#include <optional>
#include <tuple>

namespace emberline::polling {
namespace {

constexpr Duration kCoarse = std::chrono::milliseconds{1};
constexpr Duration kFine = std::chrono::microseconds{100};

Duration grid_of(Duration every) { return every < 10 * kCoarse ? kFine : kCoarse; }

Duration modulo(Duration value, Duration by) {
  const Duration rest = value % by;
  return rest < Duration::zero() ? rest + by : rest;
}

/// How good a place is: less is better.
struct Score {
  Duration overlap{};  ///< with all others together, those of limited slaves counted ten times
  Duration room{};     ///< even: minus the least room to another; close: the phase itself
  bool operator<(const Score& other) const {
    return std::tie(overlap, room) < std::tie(other.overlap, other.room);
  }
};

class Placing {
 public:
  Placing(std::vector<Turn>& turns, const std::vector<bool>& limited, Spreading spreading)
      : turns_(turns), limited_(limited), spreading_(spreading), placed_(turns.size(), false) {}

  void run() {
    std::vector<std::size_t> order(turns_.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
      return std::tuple(turns_[a].every, !limited_[turns_[a].slave]) <
             std::tuple(turns_[b].every, !limited_[turns_[b].slave]);
    });
    for (const std::size_t index : order) {
      turns_[index].phase = best(index, std::nullopt);
      placed_[index] = true;
    }
    constexpr int kRounds = 3;
    for (int round = 0; round < kRounds; ++round) {
      bool moved = false;
      for (const std::size_t index : order) {
        const Duration before = turns_[index].phase;
        turns_[index].phase = best(index, before);
        moved = moved || turns_[index].phase != before;
      }
      if (!moved) return;
    }
  }

 private:
  [[nodiscard]] Score score(std::size_t index, Duration phase) const {
    const Turn& turn = turns_[index];
    Score result;
    std::optional<Duration> least;
    for (std::size_t i = 0; i < turns_.size(); ++i) {
      if (i == index || !placed_[i]) continue;
      const Turn& other = turns_[i];
      const Duration common{std::gcd(turn.every.count(), other.every.count())};
      const Duration behind = modulo(phase - other.phase, common);
      // Where it falls due while the other is under way it waits, and the other way round.
      const Duration before_it = behind - other.exchange.whole;
      const Duration after_it = common - behind - turn.exchange.whole;
      const bool counts = limited_[turn.slave] || limited_[other.slave];
      const int weight = counts ? 10 : 1;
      result.overlap += weight * std::max(-before_it, Duration::zero());
      result.overlap += weight * std::max(-after_it, Duration::zero());
      const Duration room = std::min(before_it, after_it);
      if (!least || room < *least) least = room;
    }
    result.room = spreading_ == Spreading::even ? -least.value_or(Duration::zero()) : phase;
    return result;
  }

  [[nodiscard]] std::vector<Duration> candidates(std::size_t index) const {
    const Turn& turn = turns_[index];
    const Duration grid = grid_of(turn.every);
    std::vector<Duration> result;
    // Right behind another, in each of the places where that comes.
    constexpr std::int64_t kPlaces = 64;
    for (std::size_t i = 0; i < turns_.size(); ++i) {
      if (i == index || !placed_[i]) continue;
      const Turn& other = turns_[i];
      const Duration common{std::gcd(turn.every.count(), other.every.count())};
      const Duration end = other.phase + other.exchange.whole + grid - Duration{1};
      const std::int64_t places = std::min(kPlaces, turn.every / common);
      for (std::int64_t place = 0; place < places; ++place)
        result.push_back(modulo(end + place * common, turn.every) / grid * grid);
    }
    // And anywhere.
    constexpr std::int64_t kAnywhere = 200;
    const Duration step = std::max(turn.every / kAnywhere / grid * grid, grid);
    for (Duration at{}; at < turn.every; at += step) result.push_back(at);
    std::sort(result.begin(), result.end());
    result.erase(std::unique(result.begin(), result.end()), result.end());
    return result;
  }

  /// The best place; where it is now if none is better.
  [[nodiscard]] Duration best(std::size_t index, std::optional<Duration> now) const {
    std::optional<Score> least;
    Duration where{};
    if (now) {
      least = score(index, *now);
      where = *now;
    }
    for (const Duration candidate : candidates(index)) {
      const Score of_it = score(index, candidate);
      if (least && !(of_it < *least)) continue;
      least = of_it;
      where = candidate;
    }
    return where;
  }

  std::vector<Turn>& turns_;
  const std::vector<bool>& limited_;
  Spreading spreading_;
  std::vector<bool> placed_;
};

}  // namespace

void place_phases(std::vector<Turn>& turns, const std::vector<bool>& limited, Spreading spreading) {
  Placing(turns, limited, spreading).run();
}

}  // namespace emberline::polling

#include "sim/polling/block_choice.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numeric>
#include <tuple>
#include <unordered_map>
#include <utility>

namespace emberline::polling {
namespace {

/// Periods as whole numbers, so that costs are compared exactly and ties fall the same way everywhere.
struct Rates {
  std::vector<Duration> periods;      ///< rising
  std::vector<std::int64_t> weights;  ///< how often a block of that period comes in a common cycle
  double cycle_s = 0.0;

  [[nodiscard]] std::size_t place_of(Duration period) const {
    return static_cast<std::size_t>(std::lower_bound(periods.begin(), periods.end(), period) -
                                    periods.begin());
  }
};

/// Beyond this many of the quickest in the common cycle weights are rounded, and beyond fewer where line
/// times are so long that a sum of costs in nanoseconds could pass 64 bits.
constexpr std::int64_t kMostInCycle = std::int64_t{1} << 24;
constexpr std::int64_t kMostCost = std::int64_t{1} << 61;

std::int64_t most_in_cycle(const std::vector<Memory>& memories) {
  double longest_ns = 1.0;  // every item in a block of its own, as long as one can be
  for (const Memory& memory : memories) {
    if (!memory.items.empty())
      longest_ns += static_cast<double>(memory.items.size()) *
                    static_cast<double>(memory.line_time(memory.longest).count());
  }
  const double most = std::max(1.0, static_cast<double>(kMostCost) / longest_ns);
  return std::min(kMostInCycle, static_cast<std::int64_t>(std::min(most, static_cast<double>(kMostCost))));
}

Rates rates_of(const std::vector<Memory>& memories) {
  Rates rates;
  for (const Memory& memory : memories) {
    for (const Item& item : memory.items) rates.periods.push_back(item.every);
  }
  std::sort(rates.periods.begin(), rates.periods.end());
  rates.periods.erase(std::unique(rates.periods.begin(), rates.periods.end()), rates.periods.end());
  if (rates.periods.empty()) return rates;

  const Duration quickest = rates.periods.front();
  assert(quickest > Duration::zero());
  std::int64_t common = quickest.count();
  const std::int64_t highest = most_in_cycle(memories);
  bool exact = true;
  for (const Duration period : rates.periods) {
    const std::int64_t factor = period.count() / std::gcd(common, period.count());
    exact = exact && factor <= highest && common / quickest.count() <= highest / factor &&
            common <= kMostCost / factor;
    if (exact) common *= factor;
  }
  const std::int64_t most = exact ? common / quickest.count() : highest;
  for (const Duration period : rates.periods) {
    rates.weights.push_back(
        exact ? common / period.count()
              : std::max<std::int64_t>(
                    1, std::llround(static_cast<double>(most) * to_seconds(quickest) / to_seconds(period))));
  }
  rates.cycle_s = static_cast<double>(most) * to_seconds(quickest);
  return rates;
}

/// Items that are read together in any case: of the same addresses, or one within another. The quickest of
/// them counts.
struct Spot {
  int first = 0;
  int end = 0;
  std::size_t period = 0;
  std::vector<std::size_t> items;
};

/// By address; both ends rise from one to the next.
std::vector<Spot> spots_of(const Memory& memory, const Rates& rates) {
  std::vector<std::size_t> order(memory.items.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    const Item& one = memory.items[a];
    const Item& other = memory.items[b];
    return std::tuple(one.first, -one.count, a) < std::tuple(other.first, -other.count, b);
  });
  std::vector<Spot> spots;
  for (const std::size_t index : order) {
    const Item& item = memory.items[index];
    const std::size_t period = rates.place_of(item.every);
    if (!spots.empty() && item.first + item.count <= spots.back().end) {
      spots.back().period = std::min(spots.back().period, period);
      spots.back().items.push_back(index);
    } else {
      spots.push_back({item.first, item.first + item.count, period, {index}});
    }
  }
  return spots;
}

/// One way to cover some spots: its first block, and which of the ways for what is left.
struct Way {
  std::int64_t cost = 0;  ///< line time in the common cycle, ns
  std::int64_t rate = 0;  ///< requests in the common cycle
  std::size_t last = 0;   ///< the first block goes to this spot
  std::size_t period = 0;
  std::size_t nested = 0;  ///< place among the ways of what is quicker within the block
  std::size_t rest = 0;    ///< place among the ways of what is behind it
};
/// Ways none of which is better than another in both: by rising rate and falling cost.
using Front = std::vector<Way>;

/// The ways to cover one memory: D(i, j, k) of the header.
class Cover {
 public:
  /// With `most` those of at most this rate that no other beats in both; without only the cheapest.
  Cover(const Memory& memory, const Rates& rates, std::optional<std::int64_t> most)
      : memory_(memory), rates_(rates), most_(most), spots_(spots_of(memory, rates)) {}

  const Front& ways() { return cover(0, spots_.size(), rates_.periods.size()); }

  [[nodiscard]] std::vector<Block> blocks(std::size_t way) {
    std::vector<Block> result;
    build(0, spots_.size(), rates_.periods.size(), way, result);
    std::sort(result.begin(), result.end(), [](const Block& a, const Block& b) {
      return std::tuple(a.first, a.every, a.count) < std::tuple(b.first, b.every, b.count);
    });
    return result;
  }

 private:
  /// Leaves out at both ends what is not quicker than `below`; false if nothing is left.
  bool narrow(std::size_t& begin, std::size_t& end, std::size_t below) const {
    while (begin < end && spots_[begin].period >= below) ++begin;
    while (begin < end && spots_[end - 1].period >= below) --end;
    return begin < end;
  }

  /// The ways to cover those of the spots from `begin` to before `end` whose period is before `below`.
  const Front& cover(std::size_t begin, std::size_t end, std::size_t below) {
    static const Front kNothingToDo{Way{}};
    if (!narrow(begin, end, below)) return kNothingToDo;
    const std::size_t size = spots_.size() + 1;
    const std::size_t key = (below * size + begin) * size + end;
    if (const auto known = known_.find(key); known != known_.end()) return known->second;

    Front front;
    std::vector<bool> periods(rates_.periods.size(), false);
    for (std::size_t last = begin; last < end; ++last) {
      const int count = spots_[last].end - spots_[begin].first;
      if (count > memory_.longest) break;
      const std::size_t of_last = spots_[last].period;
      periods[of_last] = true;
      if (of_last >= below || !memory_.readable(spots_[begin].first, count)) continue;
      for (std::size_t period = 0; period <= std::min(spots_[begin].period, of_last); ++period) {
        if (periods[period]) add(front, {begin, end, below}, last, period, count);
      }
    }
    if (most_) thin_out(front);
    return known_.emplace(key, std::move(front)).first->second;
  }

  struct Task {
    std::size_t begin;
    std::size_t end;
    std::size_t below;
  };
  /// The ways whose first block ends with `last` and has this period.
  void add(Front& front, const Task& task, std::size_t last, std::size_t period, int count) {
    const Front& nested = cover(task.begin, last + 1, period);
    const Front& rest = cover(last + 1, task.end, task.below);
    const std::int64_t rate = rates_.weights[period];
    const std::int64_t cost = line_time(count).count() * rate;
    for (std::size_t n = 0; n < nested.size(); ++n) {
      for (std::size_t r = 0; r < rest.size(); ++r) {
        const Way way{
            cost + nested[n].cost + rest[r].cost, rate + nested[n].rate + rest[r].rate, last, period, n, r};
        if (most_) {
          if (way.rate > *most_) break;  // further ones are quicker still
          front.push_back(way);
        } else if (front.empty() || std::tie(way.cost, way.rate) < std::tie(front[0].cost, front[0].rate)) {
          front.assign(1, way);
        }
      }
    }
  }

  static void thin_out(Front& front) {
    std::stable_sort(front.begin(), front.end(), [](const Way& a, const Way& b) {
      return std::tie(a.rate, a.cost) < std::tie(b.rate, b.cost);
    });
    Front kept;
    for (const Way& way : front) {
      if (kept.empty() || way.cost < kept.back().cost) kept.push_back(way);
    }
    front = std::move(kept);
  }

  void build(std::size_t begin, std::size_t end, std::size_t below, std::size_t way,
             std::vector<Block>& result) {
    while (narrow(begin, end, below)) {
      const Way chosen = cover(begin, end, below).at(way);
      Block block{spots_[begin].first,
                  spots_[chosen.last].end - spots_[begin].first,
                  rates_.periods[chosen.period],
                  {}};
      for (std::size_t spot = begin; spot <= chosen.last; ++spot) {
        const bool rides = spots_[spot].period >= chosen.period && spots_[spot].period < below;
        if (rides)
          block.items.insert(block.items.end(), spots_[spot].items.begin(), spots_[spot].items.end());
      }
      std::sort(block.items.begin(), block.items.end());
      result.push_back(std::move(block));
      build(begin, chosen.last + 1, chosen.period, chosen.nested, result);
      begin = chosen.last + 1;
      way = chosen.rest;
    }
  }

  Duration line_time(int count) {
    if (times_.empty()) times_.resize(static_cast<std::size_t>(memory_.longest) + 1, Duration{-1});
    Duration& time = times_[static_cast<std::size_t>(count)];
    if (time < Duration::zero()) time = memory_.line_time(count);
    return time;
  }

  const Memory& memory_;
  const Rates& rates_;
  std::optional<std::int64_t> most_;
  std::vector<Spot> spots_;
  std::unordered_map<std::size_t, Front> known_;  // its entries stay where they are
  std::vector<Duration> times_;                   ///< by count; below 0: not asked for yet
};

/// One way for each memory of the slave.
struct Together {
  std::int64_t cost = 0;
  std::int64_t rate = 0;
  std::vector<std::size_t> ways;
};

/// The cheapest choice for all of them; nothing if there is none.
std::optional<std::vector<std::vector<Block>>> choose(const std::vector<Memory>& memories, const Rates& rates,
                                                      std::optional<std::int64_t> most,
                                                      std::int64_t& requests) {
  std::vector<Cover> covers;
  covers.reserve(memories.size());
  for (const Memory& memory : memories) covers.emplace_back(memory, rates, most);
  std::vector<Together> sums{Together{}};
  for (Cover& cover : covers) {
    std::vector<Together> next;
    const Front& ways = cover.ways();
    for (const Together& sum : sums) {
      for (std::size_t way = 0; way < ways.size(); ++way) {
        Together more = sum;
        more.cost += ways[way].cost;
        more.rate += ways[way].rate;
        more.ways.push_back(way);
        if (!most || more.rate <= *most) next.push_back(std::move(more));
      }
    }
    std::stable_sort(next.begin(), next.end(), [](const Together& a, const Together& b) {
      return std::tie(a.rate, a.cost) < std::tie(b.rate, b.cost);
    });
    sums.clear();
    for (Together& one : next) {
      if (sums.empty() || one.cost < sums.back().cost) sums.push_back(std::move(one));
    }
  }
  if (sums.empty()) return std::nullopt;
  const Together& best = sums.back();
  requests = best.rate;
  std::vector<std::vector<Block>> result;
  for (std::size_t i = 0; i < covers.size(); ++i) result.push_back(covers[i].blocks(best.ways[i]));
  return result;
}

}  // namespace

std::optional<std::vector<std::vector<Block>>> choose_blocks(const std::vector<Memory>& memories,
                                                             std::optional<double> reads_per_second) {
  const Rates rates = rates_of(memories);
  if (rates.periods.empty()) return std::vector<std::vector<Block>>(memories.size());
  std::int64_t requests = 0;
  auto cheapest = choose(memories, rates, std::nullopt, requests);
  if (!cheapest || !reads_per_second) return cheapest;
  const auto most = static_cast<std::int64_t>(std::floor(*reads_per_second * rates.cycle_s * (1 + 1e-12)));
  if (requests <= most) return cheapest;
  return choose(memories, rates, most, requests);
}

double cost_of(const Memory& memory, const std::vector<Block>& blocks) {
  double cost = 0.0;
  for (const Block& block : blocks) {
    cost += to_seconds(memory.line_time(block.count)) / to_seconds(block.every);
  }
  return cost;
}

}  // namespace emberline::polling

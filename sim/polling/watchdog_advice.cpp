#include "sim/polling/watchdog_advice.hpp"

#include <algorithm>
#include <numeric>

#include "sim/registers/register_table.hpp"

namespace emberline::polling {
namespace {

/// With a slave dead a line may have too much to do, and then the order of its requests need never come
/// round: so many are looked at, with it dead from the beginning, and from one of its requests on.
constexpr std::size_t kMostDead = 50'000;
constexpr std::size_t kMostAfterDeath = 3'000;

bool is_heartbeat(const registers::RegisterTable& table, const PlannedRequest& request) {
  return std::any_of(table.rows().begin(), table.rows().end(), [&](const registers::Row& row) {
    return row.table == request.table && row.address == request.range.first &&
           registers::carries_point(row) && row.point == registers::Point::heartbeat;
  });
}

bool feeds(const PollWish& wish, const PlannedRequest& request) {
  if (request.io_block) return false;
  const unit::UnitSpec& unit = wish.bench->units.at(request.slave).unit;
  const auto& lines = unit.comms_loss.lines;
  const std::string& line = wish.bench->lines.at(wish.line).name;
  if (std::find(lines.begin(), lines.end(), line) == lines.end()) return false;
  switch (unit.comms_loss.feeds) {
    case unit::Feeds::any_request:
    case unit::Feeds::good_request:
      return true;
    case unit::Feeds::write:
      return request.write;
    case unit::Feeds::heartbeat:
      return request.write && is_heartbeat(*unit.table, request);
  }
  return false;
}

/// The longest gaps with one slave dead, by whom they are between feeding requests of.
struct Gaps {
  bool whole = true;
  std::size_t looked_at = 0;  ///< the fewest requests, where they do not come round
  std::uint64_t step = 1;     ///< it dies from every so-manieth of its requests on
  std::vector<Duration> longest;
};

Gaps gaps_without(std::size_t slave, const PollWish& wish, const std::vector<Turn>& turns,
                  const Course& healthy) {
  Gaps gaps;
  gaps.longest.resize(healthy.gaps.size());
  std::uint64_t its = 0;
  for (std::size_t i = 0; i < turns.size(); ++i) {
    if (turns[i].slave == slave) its += healthy.times[i];
  }
  const std::size_t each = healthy.requests + kMostAfterDeath;
  gaps.step = std::max<std::uint64_t>(1, its * each / kMostRequests);
  for (std::uint64_t after = 0; after <= its; after += gaps.step) {
    const std::size_t most = after == 0 ? kMostDead : each;
    const Course course = course_of(turns, wish.master, Silence{slave, after}, most);
    for (std::size_t fed = 0; fed < gaps.longest.size(); ++fed)
      gaps.longest[fed] = std::max(gaps.longest[fed], course.gaps[fed]);
    if (course.whole) continue;
    gaps.looked_at = gaps.whole ? course.requests : std::min(gaps.looked_at, course.requests);
    gaps.whole = false;
  }
  return gaps;
}

/// Whatever neighbour was not looked at to the end may be worse than the worst that is known.
void add_doubts(const Gaps& gaps, WatchdogAdvice& advice) {
  advice.death_step = std::max(advice.death_step, gaps.step);
  if (gaps.whole) return;
  advice.looked_at = advice.comes_round ? gaps.looked_at : std::min(advice.looked_at, gaps.looked_at);
  advice.comes_round = false;
}

Duration in_whole_ms(Duration gap) { return std::chrono::ceil<std::chrono::milliseconds>(gap); }

/// However the phases lie: the feeding request that comes most surely.
Duration any_phase_gap(std::size_t fed, const std::vector<Turn>& turns, const MasterTiming& master,
                       std::optional<std::size_t> silent) {
  const auto waits = waits_in_any_phase(turns, master, silent);
  std::optional<Duration> least;
  for (std::size_t i = 0; i < turns.size(); ++i) {
    if (turns[i].feeds != fed) continue;
    const Duration gap = turns[i].every + waits[i];
    if (!least || gap < *least) least = gap;
  }
  return least.value_or(Duration::zero());
}

}  // namespace

std::vector<Turn> turns_of(const PollWish& wish, const std::vector<PlannedRequest>& requests,
                           const std::vector<SlaveKey>& slaves) {
  std::vector<Turn> turns;
  for (const PlannedRequest& request : requests) {
    const SlaveKey key{request.io_block, request.slave};
    const auto slave =
        static_cast<std::size_t>(std::find(slaves.begin(), slaves.end(), key) - slaves.begin());
    Turn turn{request.every, request.phase, request.exchange, slave, !request.write, std::nullopt};
    if (feeds(wish, request)) turn.feeds = slave;
    turns.push_back(turn);
  }
  return turns;
}

std::vector<WatchdogAdvice> advise(const PollWish& wish, const std::vector<SlaveKey>& slaves,
                                   const std::vector<Turn>& turns, const Course& healthy) {
  std::vector<WatchdogAdvice> advices;
  std::vector<std::size_t> places;  // of each advice's unit among the slaves
  for (std::size_t s = 0; s < slaves.size(); ++s) {
    if (slaves[s].io_block) continue;
    const unit::UnitSpec& unit = wish.bench->units.at(slaves[s].slave).unit;
    WatchdogAdvice advice;
    advice.unit = slaves[s].slave;
    advice.unit_name = unit.name;
    advice.timeout = unit.comms_loss.timeout;
    advice.walked = healthy.whole;
    advice.fed = std::any_of(turns.begin(), turns.end(), [s](const Turn& turn) { return turn.feeds == s; });
    if (advice.fed) {
      advice.any_phase_gap = any_phase_gap(s, turns, wish.master, std::nullopt);
      advice.longest_gap = healthy.whole ? healthy.gaps[s] : advice.any_phase_gap;
      advice.longest_gap_dead = advice.longest_gap;
    }
    advices.push_back(std::move(advice));
    places.push_back(s);
  }
  for (std::size_t dead = 0; dead < slaves.size(); ++dead) {
    if (slaves.size() < 2) break;
    const Gaps gaps = healthy.whole ? gaps_without(dead, wish, turns, healthy) : Gaps{};
    for (std::size_t a = 0; a < advices.size(); ++a) {
      WatchdogAdvice& advice = advices[a];
      if (!advice.fed || places[a] == dead) continue;
      const Duration any_phase = any_phase_gap(places[a], turns, wish.master, dead);
      advice.any_phase_gap = std::max(advice.any_phase_gap, any_phase);
      add_doubts(gaps, advice);
      const Duration gap = healthy.whole ? gaps.longest[places[a]] : any_phase;
      if (!advice.worst_neighbour.empty() && gap <= advice.longest_gap_dead) continue;
      advice.longest_gap_dead = gap;
      const SlaveKey& key = slaves[dead];
      advice.worst_neighbour =
          key.io_block ? wish.bench->io_blocks.at(key.slave).name : wish.bench->units.at(key.slave).unit.name;
    }
  }
  for (WatchdogAdvice& advice : advices) {
    advice.shortest_timeout = in_whole_ms(std::max(advice.longest_gap, advice.longest_gap_dead));
    advice.any_phase_timeout = in_whole_ms(advice.any_phase_gap);
  }
  return advices;
}

}  // namespace emberline::polling

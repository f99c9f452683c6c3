#include "sim/polling/schedule.hpp"

#include <algorithm>

namespace emberline::polling {
namespace {

/// A master at work.
class Walker {
 public:
  Walker(const std::vector<Turn>& turns, const MasterTiming& master, const std::optional<Silence>& silence,
         const std::function<void(const Made&)>& made)
      : turns_(turns), master_(master), silence_(silence), made_(made) {
    for (const Turn& turn : turns) due_.push_back(turn.phase);
    now_ = *std::min_element(due_.begin(), due_.end());
  }

  /// What is due now, and on to the next instant at which something is.
  void round() {
    const Duration begun = now_;
    for (std::size_t i = 0; i < turns_.size(); ++i) {
      if (due_[i] <= begun) carry_out(i);
    }
    now_ = std::max(now_, *std::min_element(due_.begin(), due_.end()));
  }

  [[nodiscard]] std::size_t requests() const { return requests_; }
  [[nodiscard]] Duration now() const { return now_; }

  /// Everything the future depends on, as seen from now.
  [[nodiscard]] std::vector<std::int64_t> state() const {
    std::vector<std::int64_t> state;
    state.reserve(due_.size() + 3);
    for (const Duration due : due_) state.push_back((due - now_).count());
    state.push_back(std::max(free_ - now_, Duration::zero()).count());
    state.push_back(lost_ ? 1 : 0);
    // Until then it makes a difference how many answers are left.
    state.push_back(silence_ && !lost_ ? static_cast<std::int64_t>(asked_) : 0);
    if (master_.poll_lost_every && lost_)
      state.push_back(std::max(asked_at_ + *master_.poll_lost_every - now_, Duration::zero()).count());
    return state;
  }

 private:
  void carry_out(std::size_t index) {
    const Turn& turn = turns_[index];
    Made made{index, due_[index], {}, {}, {}, true, now_ >= due_[index] + turn.every};
    due_[index] = turn.phase + ((now_ - turn.phase) / turn.every + 1) * turn.every;
    const bool its = silence_ && silence_->slave == turn.slave;
    if (its && lost_ && master_.poll_lost_every && now_ < asked_at_ + *master_.poll_lost_every) return;
    ++requests_;
    made.start = std::max(now_, free_);
    made.answers = !its || asked_ < silence_->after;
    if (its) {
      ++asked_;
      asked_at_ = now_;
    }
    if (made.answers) {
      made.taken_up = made.start + turn.exchange.request;
      made.answered = made.taken_up + turn.exchange.answer;
      now_ = made.answered;
      free_ = made.start + turn.exchange.whole;
    } else {
      lost_ = true;
      free_ = made.start + given_up_after(master_);
      now_ = free_ - master_.pause;
    }
    made_(made);
  }

  const std::vector<Turn>& turns_;
  const MasterTiming& master_;
  const std::optional<Silence>& silence_;
  const std::function<void(const Made&)>& made_;
  std::vector<Duration> due_;
  Duration now_{};
  Duration free_{};  ///< the next request may begin
  std::size_t requests_ = 0;
  bool lost_ = false;  ///< the silent slave left a request unanswered
  std::uint64_t asked_ = 0;
  Duration asked_at_{};
};

Duration costs(const Turn& turn, const MasterTiming& master, std::optional<std::size_t> silent) {
  return silent == turn.slave ? given_up_after(master) : turn.exchange.whole;
}

/// How many requests to the silent slave a round can hold.
std::int64_t tries_in_round(const std::vector<Turn>& turns, const MasterTiming& master,
                            std::optional<std::size_t> silent) {
  Duration others{};
  std::int64_t most = 0;
  for (const Turn& turn : turns) {
    if (silent == turn.slave) {
      ++most;
    } else {
      others += turn.exchange.whole;
    }
  }
  if (!master.poll_lost_every || *master.poll_lost_every <= Duration::zero() || most == 0) return most;
  const Duration each = given_up_after(master);
  std::int64_t tries = 1;
  for (;;) {
    const std::int64_t fit = std::min(most, 1 + (others + tries * each) / *master.poll_lost_every);
    if (fit <= tries) return tries;
    tries = fit;
  }
}

/// A longer one is of no use to anybody, and sums within a shorter one are far from what can be counted.
constexpr Duration kLongestBusy = std::chrono::hours{24 * 30};

/// The longest time without a break; nothing if it has no end.
std::optional<Duration> busy_period(const std::vector<Turn>& turns, const MasterTiming& master,
                                    std::optional<std::size_t> silent) {
  // The load without that slave too: with poll_lost_every its death can take load off the line.
  constexpr double kFull = 1.0 - 1e-9;
  if (load_of(turns, master, silent) >= kFull || load_of(turns, master, std::nullopt) >= kFull)
    return std::nullopt;
  const bool seldom = silent && master.poll_lost_every && *master.poll_lost_every > Duration::zero();
  Duration busy = full_cycle_of(turns, master, silent);
  Duration answered{};  // what one to it costs at most before it falls silent
  for (const Turn& turn : turns) {
    if (silent == turn.slave) answered = std::max(answered, turn.exchange.whole);
  }
  constexpr int kEnough = 10'000;  // near full load it grows in small steps: then the rounds are the bound
  for (int i = 0; i < kEnough && busy < kLongestBusy; ++i) {
    Duration sum{};
    std::int64_t asked = 0;
    for (const Turn& turn : turns) {
      const std::int64_t times = (busy + turn.every - Duration{1}) / turn.every;
      if (silent == turn.slave) {
        asked += times;
      } else {
        sum += times * turn.exchange.whole;
      }
    }
    const std::int64_t wanted = asked;
    if (seldom) asked = std::min<std::int64_t>(asked, 1 + busy / *master.poll_lost_every);
    sum += asked * given_up_after(master) + (wanted - asked) * answered;
    if (sum <= busy) return busy;
    busy = sum;
  }
  return std::nullopt;
}

}  // namespace

Duration given_up_after(const MasterTiming& master) {
  return (1 + master.retries) * master.timeout + master.retries * master.retry_after + master.pause;
}

bool walk(const std::vector<Turn>& turns, const MasterTiming& master, const std::optional<Silence>& silence,
          std::size_t most, const std::function<void(const Made&)>& made) {
  if (turns.empty()) return true;
  Walker walker(turns, master, silence, made);
  // Brent's way of finding a cycle (An improved Monte Carlo factorization algorithm, BIT 20, 1980, section
  // 7): one state is kept, after 1, 2, 4, 8, ... rounds.
  std::vector<std::int64_t> kept = walker.state();
  std::uint64_t since = 0;
  std::uint64_t power = 1;
  while (walker.requests() < most && walker.now() < kHorizon) {
    walker.round();
    ++since;
    const auto state = walker.state();
    if (state == kept) {
      // Once more round: what began before the kept state and ended behind it has come by then.
      for (std::uint64_t i = 0; i < since; ++i) walker.round();
      return true;
    }
    if (since == power) {
      kept = state;
      power *= 2;
      since = 0;
    }
  }
  return false;
}

Course course_of(const std::vector<Turn>& turns, const MasterTiming& master,
                 const std::optional<Silence>& silence, std::size_t most) {
  std::size_t slaves = 0;
  std::size_t fed = 0;
  for (const Turn& turn : turns) {
    slaves = std::max(slaves, turn.slave + 1);
    if (turn.feeds) fed = std::max(fed, *turn.feeds + 1);
  }
  Course course;
  course.ages.resize(turns.size());
  course.latest.resize(turns.size());
  course.missed.resize(turns.size());
  course.times.resize(turns.size());
  course.gaps.resize(fed);
  course.within_second.resize(slaves);
  std::vector<std::optional<Duration>> taken_up(turns.size());
  std::vector<std::optional<Duration>> last_fed(fed);
  std::vector<std::vector<Duration>> reads(slaves);  // within the last second
  course.whole = walk(turns, master, silence, most, [&](const Made& made) {
    const Turn& turn = turns[made.turn];
    ++course.requests;
    course.latest[made.turn] = std::max(course.latest[made.turn], made.start - made.due);
    if (made.missed) course.missed[made.turn] = true;
    if (!made.answers) return;
    ++course.times[made.turn];
    auto& before = taken_up[made.turn];
    if (before) course.ages[made.turn] = std::max(course.ages[made.turn], made.answered - *before);
    before = made.taken_up;
    if (turn.feeds) {
      auto& feed = last_fed[*turn.feeds];
      if (feed) course.gaps[*turn.feeds] = std::max(course.gaps[*turn.feeds], made.taken_up - *feed);
      feed = made.taken_up;
    }
    if (!turn.read) return;
    auto& recent = reads[turn.slave];
    std::erase_if(recent, [&](Duration at) { return at <= made.taken_up - std::chrono::seconds{1}; });
    recent.push_back(made.taken_up);
    course.within_second[turn.slave] = std::max(course.within_second[turn.slave], recent.size());
  });
  return course;
}

std::vector<Duration> waits_in_any_phase(const std::vector<Turn>& turns, const MasterTiming& master,
                                         std::optional<std::size_t> silent) {
  Duration round = full_cycle_of(turns, master, silent);
  const auto busy = busy_period(turns, master, silent);
  Duration tail{};
  for (const Turn& turn : turns)
    tail = std::max(tail, turn.exchange.whole - turn.exchange.request - turn.exchange.answer);
  for (const Turn& turn : turns) {  // those it answers before it falls silent
    if (silent == turn.slave && master.poll_lost_every) round += turn.exchange.whole;
  }
  std::vector<Duration> waits;
  for (const Turn& turn : turns) {
    const Duration own = costs(turn, master, silent);
    Duration wait = 2 * std::max(round - own, Duration::zero()) + tail;
    if (busy) wait = std::min(wait, std::max(*busy - own, Duration::zero()));
    waits.push_back(wait);
  }
  return waits;
}

double load_of(const std::vector<Turn>& turns, const MasterTiming& master,
               std::optional<std::size_t> silent) {
  double load = 0.0;
  double asked = 0.0;  // of the silent one, a second
  for (const Turn& turn : turns) {
    if (silent == turn.slave) {
      asked += 1.0 / to_seconds(turn.every);
    } else {
      load += to_seconds(turn.exchange.whole) / to_seconds(turn.every);
    }
  }
  if (asked > 0.0 && master.poll_lost_every && *master.poll_lost_every > Duration::zero())
    asked = std::min(asked, 1.0 / to_seconds(*master.poll_lost_every));
  return load + asked * to_seconds(given_up_after(master));
}

Duration full_cycle_of(const std::vector<Turn>& turns, const MasterTiming& master,
                       std::optional<std::size_t> silent) {
  Duration sum{};
  for (const Turn& turn : turns) {
    if (silent != turn.slave) sum += turn.exchange.whole;
  }
  return sum + tries_in_round(turns, master, silent) * given_up_after(master);
}

}  // namespace emberline::polling

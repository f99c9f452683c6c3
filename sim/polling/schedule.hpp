#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/polling/line_time.hpp"
#include "sim/polling/poll_wish.hpp"

namespace emberline::polling {

/// Further than this no schedule is followed: whole nanoseconds count up to 292 years.
inline constexpr Duration kHorizon = std::chrono::hours{24 * 365 * 20};

/// One request of a schedule.
struct Turn {
  Duration every{};  ///< more than 0
  Duration phase{};
  Exchange exchange{};
  std::size_t slave = 0;                  ///< a number for each slave, from 0
  bool read = true;                       ///< counts as a read for the slave's intake
  std::optional<std::size_t> feeds = {};  ///< whose watchdog it feeds: a number for each unit, from 0
};

/// A slave that answers its first requests and then no more.
struct Silence {
  std::size_t slave = 0;
  std::uint64_t after = 0;  ///< requests it answers; 0: it is dead from the beginning
};

/// A request that was made, its instants as times since the start.
struct Made {
  std::size_t turn = 0;
  Duration due{};
  Duration start{};
  Duration taken_up{};  ///< by the slave; nothing sensible if it does not answer
  Duration answered{};
  bool answers = true;
  bool missed = false;  ///< a whole period or more too late: what fell due meanwhile is left out
};

/// Time that one request to a slave that does not answer takes of the line and the master:
/// (1 + retries) x timeout + retries x retry_after + pause.
[[nodiscard]] Duration given_up_after(const MasterTiming& master);

/// Walks through the schedule of a master that makes one request at a time, as a stand-in does: a round takes
/// what is due when it begins, in the order of `turns`; what falls due meanwhile waits for the next round, a
/// missed period is left out. With poll_lost_every a slave that is silent is asked again only so long after
/// it was asked last, from the first request on that it leaves unanswered.
///
/// Goes on until everything has come round once from a state it was in before, so that nothing new can come,
/// and returns true; false if `most` requests, or kHorizon, were not enough for that.
bool walk(const std::vector<Turn>& turns, const MasterTiming& master, const std::optional<Silence>& silence,
          std::size_t most, const std::function<void(const Made&)>& made);

/// What comes of a schedule.
struct Course {
  bool whole = true;                       ///< see walk()
  std::size_t requests = 0;                ///< walked through
  std::vector<Duration> ages;              ///< of each turn: from taking up to the next answer, the longest
  std::vector<Duration> latest;            ///< of each turn: from due to start, the longest
  std::vector<bool> missed;                ///< of each turn
  std::vector<std::uint64_t> times;        ///< of each turn: how often it was answered
  std::vector<Duration> gaps;              ///< by Turn::feeds: the longest between feeding requests
  std::vector<std::size_t> within_second;  ///< by slave: the most reads in a sliding second
};
[[nodiscard]] Course course_of(const std::vector<Turn>& turns, const MasterTiming& master,
                               const std::optional<Silence>& silence, std::size_t most);

/// The longest wait for the line, from due to start, whatever the phases are, for each turn:
///   min(L - whole, 2 (C - whole) + pause and silence of one exchange), where
///   C = sum of `whole` over all requests, a round at most,
///   L = the least L with L = sum of whole x ceil(L / every), the longest time the line is busy without a
///       break; taken for endless if the load is 1 or more, or if it is longer than a month. L = C where C is
///       at most the shortest period.
/// L is the busy period of a non-idling resource (Lehoczky, Sha and Ding, The rate monotonic scheduling
/// algorithm, RTSS 1989, cited from memory). A silent slave's requests count with given_up_after(); with
/// poll_lost_every a round holds only as many of them as fit into it.
[[nodiscard]] std::vector<Duration> waits_in_any_phase(const std::vector<Turn>& turns,
                                                       const MasterTiming& master,
                                                       std::optional<std::size_t> silent);

/// Line time a second, 1 = all of it.
[[nodiscard]] double load_of(const std::vector<Turn>& turns, const MasterTiming& master,
                             std::optional<std::size_t> silent);
/// Every request once; those to a silent slave with all their tries, with poll_lost_every as many as fit.
[[nodiscard]] Duration full_cycle_of(const std::vector<Turn>& turns, const MasterTiming& master,
                                     std::optional<std::size_t> silent);

}  // namespace emberline::polling

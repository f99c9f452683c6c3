#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/polling/line_time.hpp"
#include "sim/polling/poll_wish.hpp"

namespace emberline::polling {

/// One request that is made again and again.
struct PlannedRequest {
  bool io_block = false;
  std::size_t slave = 0;   ///< index into units or io_blocks of the bench
  std::string slave_name;  ///< "soak-heater"
  int id = 1;
  bool write = false;
  int function = 3;  ///< function code
  modbus::Table table = modbus::Table::holding_registers;
  modbus::AddressRange range{};
  Duration every{};
  Duration phase{};  ///< first due so long after the start, then every `every`; below `every`
  Exchange exchange{};
  std::vector<std::size_t> brings;  ///< places in PollWish::reads (writes: PollWish::writes)
  int bridged = 0;                  ///< registers or bits in it that nobody wants
};

/// How old a value gets.
struct ValueAge {
  std::size_t request = 0;  ///< place in PollPlan::requests
  /// Longest time from the moment the slave takes up the read until the next answer is with the master, with
  /// the phases of the plan and everybody answering. What the slave measured is older by its own averaging.
  Duration worst{};
  /// The same however the phases lie: every + the longest wait for the line + answer. The wait is the sum of
  /// all other requests' `whole`, once each, where the full cycle is at most the shortest period; otherwise
  /// what waits_in_any_phase() (schedule.hpp) says.
  Duration worst_any_phase{};
};

/// What one slave that does not answer does to the rest. A request to it takes
///   (1 + retries) x timeout + retries x retry_after + pause
/// of the line. With poll_lost_every it is asked no more often than that, from the first request on that it
/// leaves unanswered.
struct DeadSlave {
  bool io_block = false;
  std::size_t slave = 0;
  std::string slave_name;
  Duration full_cycle{};  ///< every request once, those to it with all their tries (with poll_lost_every as
                          ///< many of them as that time has room for)
  double load = 0.0;      ///< of the line, 1 = all of it; above 1 the others come later than planned
};

/// Whether the plan keeps a unit's comms watchdog fed. Gaps are between the instants at which it takes up
/// feeding requests; it expires strictly after its timeout: a frame at that very instant is in time.
/// Reads of the plan are answered, so they are good requests; writes count as accepted, and those of the
/// heartbeat as having a new value each time. What comes before the first request is not looked at.
struct WatchdogAdvice {
  std::size_t unit = 0;
  std::string unit_name;
  Duration timeout{};  ///< as the bench has it; 0: no supervision
  bool fed = true;  ///< false: nothing in the plan feeds it (what it `feeds` on, or the line does not count)
  // However the phases lie, which is what holds for a master that does not keep them.
  Duration any_phase_gap{};      ///< a bound, dead neighbour included: the least over the feeding requests of
                                 ///< every + the longest wait for the line
  Duration any_phase_timeout{};  ///< the same in whole milliseconds: no timeout of that or more expires by
                                 ///< itself; 0 if nothing feeds
  // With exactly the phases of the plan, and no request ever lost on the way.
  bool walked = true;            ///< false: the schedule was not walked through; then these are those above
  Duration longest_gap{};        ///< between feeding requests, everybody answering
  Duration longest_gap_dead{};   ///< with the worst neighbour dead, from the beginning or from one of its
                                 ///< requests on, see death_step
  std::string worst_neighbour;   ///< who that is; empty: it has none
  Duration shortest_timeout{};   ///< the least timeout that these gaps do not let expire, dead neighbour
                                 ///< included, in whole milliseconds; 0 if nothing feeds
  bool comes_round = true;       ///< false: with a neighbour dead the requests had not come round when
                                 ///< looked_at of them were through; a longer gap may come later
  std::size_t looked_at = 0;     ///< where it does not come round: requests looked at, the fewest
  std::uint64_t death_step = 1;  ///< a neighbour is tried dead from every so-manieth of its requests on
};

/// What to ask, when, and what comes of it.
struct PollPlan {
  PollWish wish;
  std::vector<PlannedRequest> requests;  ///< writes first, then reads by slave, table and address
  double load = 0.0;                     ///< of the line, 1 = all of it
  bool fits = false;  ///< load at most 1, no period missed with these phases, no intake limit passed
  std::vector<std::string> misfits;  ///< why it does not, a sentence each; empty if it does
  double margin = 0.0;               ///< 1 - load
  Duration full_cycle{};             ///< every request once, everybody answering
  Duration longest_wait{};           ///< of a request for the line, everybody answering
  bool walked = true;  ///< false: the schedule comes round only after more than 200,000 requests; then ages,
                       ///< gaps and missed periods are those of any phase
  std::vector<ValueAge> ages;             ///< as PollWish::reads
  std::vector<DeadSlave> dead;            ///< one for each slave in the plan
  std::vector<WatchdogAdvice> watchdogs;  ///< one for each unit in the plan
};

/// The cheapest plan for a wish; the phases spread the requests over time. Refuses, each with the place of
/// what was wanted: what no read can bring (longer than the slave takes at once, unmapped, half of a value),
/// a slave that takes longer to answer than the master waits, and a wish that the slave's reads a second
/// cannot serve however it is cut.
[[nodiscard]] Result<PollPlan, std::vector<Diagnostic>> make_poll_plan(PollWish wish);

}  // namespace emberline::polling

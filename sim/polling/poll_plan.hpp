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
  /// The same however the phases lie, if every other request is in the way once.
  Duration worst_any_phase{};
};

/// What one slave that does not answer does to the rest.
struct DeadSlave {
  bool io_block = false;
  std::size_t slave = 0;
  std::string slave_name;
  Duration full_cycle{};  ///< every request once, those to it with all their tries
  double load = 0.0;      ///< of the line, 1 = all of it; above 1 the others come later than planned
};

/// Whether the plan keeps a unit's comms watchdog fed.
struct WatchdogAdvice {
  std::size_t unit = 0;
  std::string unit_name;
  Duration timeout{};  ///< as the bench has it; 0: no supervision
  bool fed = true;  ///< false: nothing in the plan feeds it (what it `feeds` on, or the line does not count)
  Duration longest_gap{};       ///< between feeding requests, everybody answering
  Duration longest_gap_dead{};  ///< with the worst neighbour dead
  std::string worst_neighbour;  ///< who that is; empty: it has none
  Duration shortest_timeout{};  ///< the least timeout that does not expire by itself, dead neighbour included
};

/// What to ask, when, and what comes of it.
struct PollPlan {
  PollWish wish;
  std::vector<PlannedRequest> requests;  ///< writes first, then reads by slave, table and address
  double load = 0.0;                     ///< of the line, 1 = all of it
  bool fits = false;  ///< load at most 1, no period missed with these phases, no intake limit passed
  std::vector<std::string> misfits;       ///< why it does not, a sentence each; empty if it does
  double margin = 0.0;                    ///< 1 - load
  Duration full_cycle{};                  ///< every request once, everybody answering
  std::vector<ValueAge> ages;             ///< as PollWish::reads
  std::vector<DeadSlave> dead;            ///< one for each slave in the plan
  std::vector<WatchdogAdvice> watchdogs;  ///< one for each unit in the plan
};

/// The cheapest plan for a wish; the phases spread the requests over time. Refuses, each with the place of
/// what was wanted: what no read can bring (longer than the slave takes at once, unmapped, half of a value),
/// and a wish that the slave's reads a second cannot serve however it is cut.
[[nodiscard]] Result<PollPlan, std::vector<Diagnostic>> make_poll_plan(PollWish wish);

}  // namespace emberline::polling

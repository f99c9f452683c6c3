#include "sim/rehearsal/stand_in_requests.hpp"

#include <algorithm>

#include "sim/bench/signal.hpp"
#include "sim/registers/address.hpp"
#include "sim/registers/register_table.hpp"
#include "sim/rehearsal/refusal_words.hpp"

namespace emberline::rehearsal {

namespace {

/// "soak-heater.setpoint = 50 %"
std::string written(const Target& target, double value) {
  return target.name + " = " + bench::describe_value(target.info, value);
}

/// What goes into the slave for a value.
registers::Words words_of(const Target& target, double value) {
  if (!modbus::carries_bits(target.row.table)) return registers::encode_row(target.row, value);
  registers::Words bit;
  bit.words[0] = value != 0.0 ? 1 : 0;
  return bit;
}

}  // namespace

std::string slave_name(const Target& target) {
  if (!target.slave_name.empty()) return target.slave_name;
  if (target.io_block) return "unit id " + std::to_string(target.id);
  return target.name.substr(0, target.name.find('.'));
}

bool StandInRequests::writes_on_change(const MasterSpec& master) {
  const auto on_change = [](const ProgramStep& step) { return step.on_change; };
  return std::any_of(master.program.begin(), master.program.end(), on_change) ||
         std::any_of(master.states.begin(), master.states.end(), [&](const MasterState& state) {
           return std::any_of(state.program.begin(), state.program.end(), on_change);
         });
}

// --- reading and writing -----------------------------------------------------------------------------------

const StandInRequests::Answer* StandInRequests::read(const Target& lead, modbus::AddressRange range) {
  const std::string* line = line_to(lead);
  if (line == nullptr) return nullptr;
  if (master_.poll_lost_every) {
    const Slave& slave = slave_of(lead);
    if (slave.lost && link_.now() < slave.asked_at + *master_.poll_lost_every) return nullptr;
  }
  const bool bits = modbus::carries_bits(lead.row.table);
  const Outcome outcome = persist(lead, [&]() -> Outcome {
    if (bits) {
      auto read = link_.read_bits(*line, lead.id, lead.row.table, range);
      if (!read) return Failure{read.error()};
      answer_.bits = std::move(read).value();
    } else {
      auto read = link_.read_registers(*line, lead.id, lead.row.table, range);
      if (!read) return Failure{read.error()};
      answer_.words = std::move(read).value();
    }
    return Done{};
  });
  conclude(lead, outcome, [&] {
    return "the read of " + std::to_string(range.count) + (bits ? " bit" : " register") +
           (range.count == 1 ? "" : "s") + " from " + registers::both_ways(range.first, lead.row.table);
  });
  return outcome ? &answer_ : nullptr;
}

void StandInRequests::write(const Target& target, double value, bool on_change) {
  if (on_change) {
    const Taken* taken = taken_from(target);
    if (taken != nullptr && taken->words.words == words_of(target, value).words) return;
  }
  if (!keeps_back(target, value)) send(target, value);
}

void StandInRequests::write_anyway(const Target& target, double value) { send(target, value); }

/// One request for one value.
void StandInRequests::send(const Target& target, double value) {
  const std::string* line = line_to(target);
  if (line == nullptr) return;
  const registers::Words words = words_of(target, value);
  const Outcome outcome = persist(target, [&]() -> Outcome {
    if (modbus::carries_bits(target.row.table)) {
      return link_.write_bits(*line, target.id, target.row.address, {value != 0.0});
    }
    return link_.write_registers(*line, target.id, target.row.address,
                                 {words.words.begin(), words.words.begin() + words.used});
  });
  if (remembers_) {
    // Without an answer nobody knows what stands there now.
    if (outcome) {
      remember(target, words);
    } else if (!outcome.error().refusal) {
      forget(target);
    }
  }
  conclude(target, outcome, [&] {
    return written(target, value) + " at " + registers::both_ways(target.row.address, target.row.table);
  });
}

/// The first of the stand-in's lines that the slave is on.
const std::string* StandInRequests::line_to(const Target& target) const {
  for (const std::string& line : master_.lines) {
    if (std::find(target.lines.begin(), target.lines.end(), line) != target.lines.end()) return &line;
  }
  return nullptr;
}

/// Tries until there is an answer, be it a refusal, or the retries are used up.
template <class Try>
StandInRequests::Outcome StandInRequests::persist(const Target& target, Try&& once) {
  slave_of(target).asked_at = link_.now();
  Outcome outcome = once();
  for (int retry = 0; retry < master_.retries && !outcome && !outcome.error().refusal && !halted(); ++retry) {
    if (master_.retry_after > Duration::zero()) {
      const SimTime again = link_.now() + master_.retry_after;
      if (!link_.sleep_until(ends_ ? std::min(again, *ends_) : again) || halted()) break;
    }
    outcome = once();
  }
  return outcome;
}

StandInRequests::Taken* StandInRequests::taken_from(const Target& target) {
  const auto known = std::find_if(taken_.begin(), taken_.end(), [&](const Taken& one) {
    return one.io_block == target.io_block && one.slave == target.slave && one.table == target.row.table &&
           one.address == target.row.address;
  });
  return known != taken_.end() ? &*known : nullptr;
}

void StandInRequests::forget(const Target& target) {
  const Taken* taken = taken_from(target);
  if (taken != nullptr) taken_.erase(taken_.begin() + (taken - taken_.data()));
}

void StandInRequests::remember(const Target& target, const registers::Words& words) {
  if (Taken* taken = taken_from(target)) {
    taken->words = words;
  } else {
    taken_.push_back({target.io_block, target.slave, target.row.table, target.row.address, words});
  }
}

// --- what answers say of a slave ---------------------------------------------------------------------------

template <class Words>
void StandInRequests::conclude(const Target& target, const Outcome& outcome, Words&& what) {
  if (link_.over()) return;
  if (!outcome && !outcome.error().refusal) {
    if (halted()) return;  // not all tries were made
    given_up(target);
  } else {
    answered(target);
    note_refusal(target, outcome, what);
  }
  react();
}

void StandInRequests::given_up(const Target& target) {
  Slave& slave = slave_of(target);
  ++slave.failures;
  const int tries = master_.retries + 1;
  if (!master_.lost_after) {
    if (slave.failures == 1) {
      link_.note("no answer from " + slave_name(target) + ": request given up after " +
                 (tries == 1 ? "one try" : std::to_string(tries) + " tries"));
    }
    return;
  }
  if (slave.lost || slave.failures < *master_.lost_after) return;
  slave.lost = true;
  link_.note("no answer from " + slave_name(target) + ", " + std::to_string(slave.failures) +
             (slave.failures == 1 ? " request given up" : " requests in a row given up") +
             ": counts as lost, writes " +
             (master_.when_lost_writes.empty() ? "nothing" : "what it has for this case"));
  for (const Write& write : master_.when_lost_writes) reactions_.push_back({&write, false});
  if (master_.when_lost_go) wish_ = Wish{*master_.when_lost_go, slave_name(target) + " is lost"};
}

void StandInRequests::answered(const Target& target) {
  Slave& slave = slave_of(target);
  const bool was_silent = slave.failures > 0;
  slave.failures = 0;
  if (slave.lost) {
    slave.lost = false;
    slave.back_at = link_.now();
    link_.note(slave_name(target) + " answers again: no longer lost");
    std::erase_if(kept_back_, [&](const auto& of) {
      return of.first == std::pair{target.io_block, target.slave};
    });
    for (const Write& write : master_.when_back_writes) reactions_.push_back({&write, true});
    if (master_.when_back_go) wish_ = Wish{*master_.when_back_go, slave_name(target) + " is back"};
  } else if (was_silent && !master_.lost_after) {
    link_.note(slave_name(target) + " answers again");
  }
}

/// Sends what losses and returns call for, in their order. Such a write may itself meet a lost slave or
/// wake one up: that queues further writes here instead of nesting.
void StandInRequests::react() {
  if (reacting_) return;
  reacting_ = true;
  while (!reactions_.empty() && !halted()) {
    const Reaction next = reactions_.front();
    reactions_.pop_front();
    if (!next.kept_back_by_loss || !keeps_back(next.write->target, next.write->value)) {
      send(next.write->target, next.write->value);
    }
  }
  reacting_ = false;
}

template <class Words>
void StandInRequests::note_refusal(const Target& target, const Outcome& outcome, Words&& what) {
  const auto known = refused_.find(&target);
  if (outcome) {
    if (known == refused_.end()) return;
    refused_.erase(known);
    link_.note(slave_name(target) + " accepted " + what());
    return;
  }
  const modbus::Refusal refusal = *outcome.error().refusal;
  if (known != refused_.end()) known->second.at = link_.now();
  if (known != refused_.end() && known->second.refusal == refusal) return;
  refused_[&target] = {refusal, link_.now()};
  link_.note(slave_name(target) + " refused " + what() + ": " + refusal_words(refusal));
}

bool StandInRequests::keeps_back(const Target& target, double value) {
  if (!slave_of(target).lost) return false;
  if (kept_back_.emplace(std::pair{target.io_block, target.slave}, target.name).second) {
    link_.note("keeps back " + written(target, value) + " while " + slave_name(target) + " is lost");
  }
  return true;
}

StandInRequests::Slave& StandInRequests::slave_of(const Target& target) {
  const auto known = std::find_if(slaves_.begin(), slaves_.end(), [&](const Slave& slave) {
    return slave.io_block == target.io_block && slave.index == target.slave;
  });
  if (known != slaves_.end()) return *known;
  return slaves_.emplace_back(Slave{target.io_block, target.slave});
}

bool StandInRequests::holds(const SlaveCondition& condition, SimTime since) const {
  if (condition.kind == SlaveCondition::Kind::refused) {
    return std::any_of(refused_.begin(), refused_.end(), [&](const auto& one) {
      return one.first->io_block == condition.io_block && one.first->slave == condition.slave &&
             one.second.at >= since;
    });
  }
  const auto slave = std::find_if(slaves_.begin(), slaves_.end(), [&](const Slave& one) {
    return one.io_block == condition.io_block && one.index == condition.slave;
  });
  if (slave == slaves_.end()) return false;
  if (condition.kind == SlaveCondition::Kind::lost) return slave->lost;
  return !slave->lost && slave->back_at && *slave->back_at >= since;
}

}  // namespace emberline::rehearsal

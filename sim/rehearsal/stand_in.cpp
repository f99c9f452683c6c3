#include "sim/rehearsal/stand_in.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <map>
#include <set>
#include <string>

#include "sim/bench/signal.hpp"
#include "sim/registers/address.hpp"
#include "sim/rehearsal/block_plan.hpp"
#include "sim/rehearsal/pi_loop.hpp"
#include "sim/rehearsal/refusal_words.hpp"

namespace emberline::rehearsal {

namespace {

using Outcome = Result<Done, MasterLink::Failure>;

std::string slave_name(const Target& target) {
  if (!target.slave_name.empty()) return target.slave_name;
  if (target.io_block) return "unit id " + std::to_string(target.id);
  return target.name.substr(0, target.name.find('.'));
}

/// "soak-heater.setpoint = 50 %"
std::string written(const Write& write) {
  return write.target.name + " = " + bench::describe_value(write.target.info, write.value);
}

modbus::AddressRange range_of(const Target& target) {
  const int count =
      modbus::carries_bits(target.row.table) ? 1 : registers::register_count(target.row.layout.type);
  return {target.row.address, static_cast<std::uint16_t>(count)};
}

/// What is known of a slave from its answers.
struct SlaveState {
  bool io_block;
  std::size_t index;
  int failures = 0;  ///< requests given up since the last answer
  bool lost = false;
  [[nodiscard]] bool is_of(const Target& target) const {
    return io_block == target.io_block && index == target.slave;
  }
};

/// One line of the program with its place in time.
struct Step {
  const ProgramStep* spec;
  std::optional<SimTime> due;
  std::vector<BlockRead> blocks;
  PiLoop loop;
};

class Player {
 public:
  Player(const MasterSpec& master, MasterLink& link) : master_(master), link_(link) {
    for (const ProgramStep& step : master.program) steps_.push_back(prepare(step));
  }

  void run() {
    for (;;) {
      // A round takes what is due now, in the order of the file; what falls due meanwhile waits for the
      // next round, so that a greedy line cannot starve those behind it.
      const SimTime round = link_.now();
      if (stopped(round)) return;
      for (Step& step : steps_) {
        if (!step.due || *step.due > round) continue;
        reschedule(step);
        carry_out(step);
        if (link_.over() || stopped(link_.now())) return;
      }
      std::optional<SimTime> next;
      for (const Step& step : steps_) {
        if (step.due && (!next || *step.due < *next)) next = step.due;
      }
      if (!next || stopped(*next) || !link_.sleep_until(*next)) return;
    }
  }

 private:
  [[nodiscard]] bool stopped(SimTime at) const { return master_.stops && at >= *master_.stops; }

  static Step prepare(const ProgramStep& spec) {
    Step step{&spec, spec.at, {}, PiLoop({})};
    if (!spec.at && spec.every && *spec.every > Duration::zero()) step.due = SimTime{};
    if (spec.kind == ProgramStep::Kind::read) step.blocks = plan_blocks(spec.reads);
    if (spec.kind == ProgramStep::Kind::control && spec.every) {
      step.loop = PiLoop({spec.gain, *spec.every, spec.integral_time});
    }
    return step;
  }

  void reschedule(Step& step) const {
    if (!step.spec->every || step.spec->at) {
      step.due.reset();
      return;
    }
    const Duration period = *step.spec->every;
    const Duration passed = link_.now().time_since_epoch();
    step.due =
        SimTime{(passed / period + 1) * period};  // periods missed meanwhile are made up for by this one
  }

  void carry_out(Step& step) {
    switch (step.spec->kind) {
      case ProgramStep::Kind::read:
        for (const BlockRead& block : step.blocks) {
          if (link_.over()) return;
          (void)read(step.spec->reads[block.lead], block.range);
        }
        return;
      case ProgramStep::Kind::write:
        for (const Write& write : step.spec->writes) {
          if (link_.over()) return;
          write_unless_lost(write);
        }
        return;
      case ProgramStep::Kind::control:
        control(step);
        return;
    }
  }

  void control(Step& step) {
    if (!step.spec->output || !step.spec->measured) return;
    const std::optional<double> measured = read(*step.spec->measured, range_of(*step.spec->measured));
    if (link_.over() || !measured || !std::isfinite(*measured)) return;
    const Target& output = *step.spec->output;
    // Nobody hears the output of a lost slave: the integral waits, or it would wind up against a dead cable.
    if (state_of(output).lost) {
      note_held_back({output, step.loop.last_output()});
      return;
    }
    const double error = step.spec->target_value - *measured;
    send(output, step.loop.next(error));
  }

  /// Reads a range whose first value is `lead`; gives that value (SI).
  std::optional<double> read(const Target& lead, modbus::AddressRange range) {
    const std::string* line = line_to(lead);
    if (line == nullptr) return std::nullopt;
    std::optional<double> value;
    const Outcome outcome = persist([&]() -> Outcome {
      if (modbus::carries_bits(lead.row.table)) {
        auto bits = link_.read_bits(*line, lead.id, lead.row.table, range);
        if (!bits) return Failure{bits.error()};
        if (!bits->empty()) value = bits->front() ? 1.0 : 0.0;
      } else {
        auto words = link_.read_registers(*line, lead.id, lead.row.table, range);
        if (!words) return Failure{words.error()};
        value = value_of(lead, range, *words);
      }
      return Done{};
    });
    conclude(lead, outcome, [&] {
      return "the read of " + std::to_string(range.count) +
             (modbus::carries_bits(lead.row.table) ? " bit" : " register") + (range.count == 1 ? "" : "s") +
             " from " + registers::both_ways(range.first, lead.row.table);
    });
    return value;
  }

  static std::optional<double> value_of(const Target& lead, modbus::AddressRange range,
                                        const std::vector<std::uint16_t>& words) {
    const auto offset = static_cast<std::size_t>(lead.row.address - range.first);
    const auto count = static_cast<std::size_t>(registers::register_count(lead.row.layout.type));
    if (offset + count > words.size()) return std::nullopt;
    return registers::decode_row(lead.row, std::span(words).subspan(offset, count));
  }

  void write_unless_lost(const Write& write) {
    if (state_of(write.target).lost) {
      note_held_back(write);
      return;
    }
    send(write.target, write.value);
  }

  /// One request for one value.
  void send(const Target& target, double value) {
    const std::string* line = line_to(target);
    if (line == nullptr) return;
    const Outcome outcome = persist([&]() -> Outcome {
      if (modbus::carries_bits(target.row.table)) {
        return link_.write_bits(*line, target.id, target.row.address, {value != 0.0});
      }
      const registers::Words words = registers::encode_row(target.row, value);
      return link_.write_registers(*line, target.id, target.row.address,
                                   {words.words.begin(), words.words.begin() + words.used});
    });
    conclude(target, outcome, [&] {
      return written({target, value}) + " at " + registers::both_ways(target.row.address, target.row.table);
    });
  }

  /// Tries until there is an answer, be it a refusal, or the retries are used up.
  template <class Try>
  Outcome persist(Try&& once) {
    Outcome outcome = once();
    for (int retry = 0; retry < master_.retries && !outcome && !outcome.error().refusal && !link_.over();
         ++retry) {
      outcome = once();
    }
    return outcome;
  }

  template <class Words>
  void conclude(const Target& target, const Outcome& outcome, Words&& what) {
    if (link_.over()) return;
    if (!outcome && !outcome.error().refusal) {
      given_up(target);
    } else {
      answered(target);
      note_refusal(target, outcome, what);
    }
    react();
  }

  void given_up(const Target& target) {
    SlaveState& slave = state_of(target);
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
  }

  void answered(const Target& target) {
    SlaveState& slave = state_of(target);
    const bool was_silent = slave.failures > 0;
    slave.failures = 0;
    if (slave.lost) {
      slave.lost = false;
      link_.note(slave_name(target) + " answers again: no longer lost");
      std::erase_if(held_back_, [&](const auto& of) { return of.first == key_of(target); });
      for (const Write& write : master_.when_back_writes) reactions_.push_back({&write, true});
    } else if (was_silent && !master_.lost_after) {
      link_.note(slave_name(target) + " answers again");
    }
  }

  /// Sends what losses and returns call for, in their order. Such a write may itself meet a lost slave or
  /// wake one up: that queues further writes here instead of nesting.
  void react() {
    if (reacting_) return;
    reacting_ = true;
    while (!reactions_.empty() && !link_.over()) {
      const Reaction next = reactions_.front();
      reactions_.pop_front();
      if (next.held_back_by_loss) {
        write_unless_lost(*next.write);
      } else {
        send(next.write->target, next.write->value);
      }
    }
    reacting_ = false;
  }

  template <class Words>
  void note_refusal(const Target& target, const Outcome& outcome, Words&& what) {
    const auto known = refused_.find(&target);
    if (outcome) {
      if (known == refused_.end()) return;
      refused_.erase(known);
      link_.note(slave_name(target) + " accepted " + what());
      return;
    }
    const modbus::Refusal refusal = *outcome.error().refusal;
    if (known != refused_.end() && known->second == refusal) return;
    refused_[&target] = refusal;
    link_.note(slave_name(target) + " refused " + what() + ": " + refusal_words(refusal));
  }

  void note_held_back(const Write& write) {
    if (!held_back_.emplace(key_of(write.target), write.target.name).second) return;
    link_.note("keeps back " + written(write) + " while " + slave_name(write.target) + " is lost");
  }

  using SlaveKey = std::pair<bool, std::size_t>;
  static SlaveKey key_of(const Target& target) { return {target.io_block, target.slave}; }

  SlaveState& state_of(const Target& target) {
    const auto known = std::find_if(slaves_.begin(), slaves_.end(),
                                    [&](const SlaveState& slave) { return slave.is_of(target); });
    if (known != slaves_.end()) return *known;
    return slaves_.emplace_back(SlaveState{target.io_block, target.slave});
  }

  /// The first of the stand-in's lines that the slave is on.
  [[nodiscard]] const std::string* line_to(const Target& target) const {
    for (const std::string& line : master_.lines) {
      if (std::find(target.lines.begin(), target.lines.end(), line) != target.lines.end()) return &line;
    }
    return nullptr;
  }

  struct Reaction {
    const Write* write;
    bool held_back_by_loss;
  };

  const MasterSpec& master_;
  MasterLink& link_;
  std::vector<Step> steps_;
  std::deque<SlaveState> slaves_;
  std::deque<Reaction> reactions_;
  bool reacting_ = false;
  std::map<const Target*, modbus::Refusal> refused_;      ///< what was refused last time, and how
  std::set<std::pair<SlaveKey, std::string>> held_back_;  ///< told once for each loss
};

}  // namespace

void play(const MasterSpec& master, MasterLink& link) { Player(master, link).run(); }

}  // namespace emberline::rehearsal

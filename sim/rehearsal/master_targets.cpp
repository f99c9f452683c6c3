#include "sim/rehearsal/master_targets.hpp"

namespace emberline::rehearsal {
namespace {

using Targets = std::vector<const Target*>;

void add(Targets& targets, const std::vector<Write>& writes) {
  for (const auto& write : writes) targets.push_back(&write.target);
}

void add_written(Targets& targets, const std::vector<ProgramStep>& program) {
  for (const auto& step : program) {
    add(targets, step.writes);
    for (const auto& ramp : step.ramps) targets.push_back(&ramp.target);
    if (step.output) targets.push_back(&*step.output);
  }
}

void add_read(Targets& targets, const std::vector<ProgramStep>& program) {
  for (const auto& step : program) {
    for (const auto& target : step.reads) targets.push_back(&target);
    if (step.measured) targets.push_back(&*step.measured);
  }
}

}  // namespace

std::vector<const Target*> write_targets(const MasterSpec& master) {
  Targets targets;
  add_written(targets, master.program);
  for (const auto& state : master.states) {
    add(targets, state.on_entry);
    add_written(targets, state.program);
  }
  for (const auto& alarm : master.alarms) {
    add(targets, alarm.writes);
    add(targets, alarm.clears_writes);
  }
  add(targets, master.when_lost_writes);
  add(targets, master.when_back_writes);
  return targets;
}

std::vector<const Target*> read_targets(const MasterSpec& master) {
  Targets targets;
  add_read(targets, master.program);
  for (const auto& state : master.states) add_read(targets, state.program);
  return targets;
}

}  // namespace emberline::rehearsal

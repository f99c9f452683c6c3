#include "sim/rehearsal/master_targets.hpp"

namespace emberline::rehearsal {
namespace {

void add(std::vector<const Target*>& targets, const std::vector<Write>& writes) {
  for (const auto& write : writes) targets.push_back(&write.target);
}

}  // namespace

std::vector<const Target*> write_targets(const MasterSpec& master) {
  std::vector<const Target*> targets;
  for (const auto& step : master.program) {
    add(targets, step.writes);
    if (step.output) targets.push_back(&*step.output);
  }
  add(targets, master.when_lost_writes);
  add(targets, master.when_back_writes);
  return targets;
}

std::vector<const Target*> read_targets(const MasterSpec& master) {
  std::vector<const Target*> targets;
  for (const auto& step : master.program) {
    for (const auto& target : step.reads) targets.push_back(&target);
    if (step.measured) targets.push_back(&*step.measured);
  }
  return targets;
}

}  // namespace emberline::rehearsal

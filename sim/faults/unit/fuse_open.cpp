#include "sim/faults/unit/fuse_open.hpp"

#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  alter_legs(bench, action.target, at, [](plant::LegState& state, std::size_t) {
    state.fuse_open = true;
    return std::string("fuse open: nothing flows in this line until it is replaced");
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return alter_legs(bench, target, at, [](plant::LegState& state, std::size_t) {
    state.fuse_open = false;
    return std::string("fuse replaced");
  });
}

}  // namespace

const ActionKind kFuseOpen{
    "fuse_open", TargetKind::leg, "melts the fuse in a line of a unit", Duration{}, perform, {}, mended,
    mend};

}  // namespace emberline::faults

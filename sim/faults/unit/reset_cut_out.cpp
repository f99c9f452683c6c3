#include "sim/faults/unit/reset_cut_out.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.reset_cut_out(action.target.index, at);
}

std::string refusal(const bench::BenchSpec& spec, const Action& action) {
  if (spec.zones.at(action.target.index).cut_out) return {};
  return "the bench file gives '" + action.target_name + "' no 'cut_out'";
}

}  // namespace

const ActionKind kResetCutOut{
    "reset_cut_out", TargetKind::zone, "resets the excess-temperature cut-out of a zone by hand",
    Duration{},      perform,          {},
    nullptr,         nullptr,          refusal};

}  // namespace emberline::faults

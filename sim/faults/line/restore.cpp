#include "sim/faults/line/restore.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Target& target, SimTime at) {
  bench.set_line_cut(target.index, false, at);
}

}  // namespace

const ActionKind kRestore{"restore", TargetKind::line, "plugs the cable of a line in again", Duration{},
                          perform};

}  // namespace emberline::faults

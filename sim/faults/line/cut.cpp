#include "sim/faults/line/cut.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Target& target, SimTime at) {
  bench.set_line_cut(target.index, true, at);
}

}  // namespace

const ActionKind kCut{"cut", TargetKind::line,
                      "pulls the cable of a line: nothing gets through, either way, until it is restored",
                      Duration{}, perform};

}  // namespace emberline::faults

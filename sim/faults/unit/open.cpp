#include "sim/faults/unit/open.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Target& target, SimTime at) { bench.open_wire(target.wire, at); }

}  // namespace

const ActionKind kOpen{"open", TargetKind::wire,
                       "breaks the wire to a terminal or contactor until it is released", Duration{},
                       perform};

}  // namespace emberline::faults

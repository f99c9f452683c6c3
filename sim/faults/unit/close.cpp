#include "sim/faults/unit/close.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Target& target, SimTime at) { bench.close_wire(target.wire, at); }

}  // namespace

const ActionKind kClose{"close", TargetKind::wire,
                        "bridges the wire to a terminal or contactor until it is released", Duration{},
                        perform};

}  // namespace emberline::faults

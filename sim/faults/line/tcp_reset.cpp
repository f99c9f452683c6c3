#include "sim/faults/line/tcp_reset.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.lines().reset_connections(action.target.index, at);
}

}  // namespace

const ActionKind kTcpReset{"tcp_reset", TargetKind::tcp_line,
                           "tears all connections of a line down, once; masters may connect again",
                           Duration{}, perform};

}  // namespace emberline::faults

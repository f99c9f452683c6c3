#pragma once

#include "sim/bench/signal.hpp"
#include "sim/io/files/node.hpp"

namespace emberline::io {

/// Reads a value as its signal has them: a state by its word or number, warnings and trips as names (or
/// `none`), everything else with its unit. Complains with the nearest word or with what was expected.
bool read_signal_value(const Node& node, const bench::SignalInfo& info, double& into, Problems& problems);

}  // namespace emberline::io

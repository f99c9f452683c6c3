#pragma once

#include <string>

#include "sim/io/panel/snapshot.hpp"

namespace emberline::io {

/// True if the load of a unit that gives no output may still be live: its thyristors leak, and its supply is
/// there.
[[nodiscard]] bool leaks(const BenchFacts& facts, const Snapshot& snapshot, std::size_t unit);

/// One or two sentences for people who stand in front of it: why the unit is in its state, and what that
/// means for the load. Tells what the unit knows and meters show, never what was done to the bench.
[[nodiscard]] std::string unit_says(const BenchFacts& facts, const Snapshot& snapshot, std::size_t unit);

}  // namespace emberline::io

#pragma once

#include <string>
#include <string_view>

#include "sim/io/panel/hub_facts.hpp"
#include "sim/io/panel/site.hpp"

namespace emberline::io {

/// What a bench is, as JSON: lines, units, zones, signals, and what can be done to it. Watchers, who do
/// nothing, are told no actions. `hidden`: without the signals that tell of faults.
[[nodiscard]] std::string bench_json(const BenchFacts& facts, std::string_view version, Role role,
                                     bool hidden);

}  // namespace emberline::io

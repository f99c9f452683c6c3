#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/rehearsal/expectation.hpp"

namespace emberline::rehearsal {

// The words verdicts are made of.

[[nodiscard]] std::string words_of(SimTime at);
[[nodiscard]] std::string words_of(Duration duration);
/// "soak-heater.state inhibited and soak-heater.load_power below 50 W".
[[nodiscard]] std::string words_of(const std::vector<Condition>& conditions);
/// What their signals are at the moment: "soak-heater.state was running, soak-heater.load_power was 12 kW".
[[nodiscard]] std::string values_of(const std::vector<Condition>& conditions, const bench::Bench& bench,
                                    SimTime now);
/// Why nobody can tell: "oven.measured had no value at 20 s in the interval".
[[nodiscard]] std::string without_value(const Condition& condition, SimTime now);
/// Where an interval begins: "from the start", "from 10 s", "after cut field (20 s)".
[[nodiscard]] std::string since(const Expectation& expectation, SimTime from);
/// "2 times", "once".
[[nodiscard]] std::string times(int count);

}  // namespace emberline::rehearsal

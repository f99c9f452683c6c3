#pragma once

#include <cstdint>

#include "sim/bench/bench_spec.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::speed {

/// Name of the only unit and of its only line, and how many holding registers from 0 on it has.
inline constexpr const char* kUnit = "heater";
inline constexpr const char* kLine = "ethernet";
inline constexpr int kUnitId = 1;
inline constexpr int kRegisters = 10;

/// One three-phase unit on one TCP line, heating one zone: the smallest bench that has everything to do. No
/// watchdog and no intake limits, so that nothing but the work itself takes time.
[[nodiscard]] bench::BenchSpec small_bench(unit::FiringMode firing);

}  // namespace emberline::speed

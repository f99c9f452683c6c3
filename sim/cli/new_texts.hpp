#pragma once

#include <string>

#include "sim/cli/new_answers.hpp"

namespace emberline::cli {

inline constexpr const char* kNewBench = "bench.yaml";
inline constexpr const char* kNewRegisters = "registers.yaml";
inline constexpr const char* kNewScenario = "cable-pulled.yaml";

// The files that `emberline new` writes. Each begins with a comment that says what it is for.

[[nodiscard]] std::string new_bench(const Answers& answers);
[[nodiscard]] std::string new_registers(const Answers& answers);
/// The cable is pulled, the unit acts by its policy, the cable is plugged in again, and the PLC recovers.
[[nodiscard]] std::string new_scenario(const Answers& answers);

/// A text as it may stand in a YAML file, quoted where it has to be.
[[nodiscard]] std::string yaml_text(const std::string& text);
/// A time as it stands in the files: "3 s", "1500 ms".
[[nodiscard]] std::string yaml_time(Duration time);
/// "heater-1"; `index` counts from 0.
[[nodiscard]] std::string new_unit_name(int index);
[[nodiscard]] std::string new_line_name(const Answers& answers);
/// Power of a unit at a setpoint of 100 %.
[[nodiscard]] double new_full_scale_W(const Answers& answers);

}  // namespace emberline::cli

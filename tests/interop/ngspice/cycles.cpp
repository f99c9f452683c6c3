#include <string>

#include "tests/interop/ngspice/places.hpp"
#include "tests/interop/ngspice/power_stage.hpp"

namespace emberline::spice {
namespace {

using plant::System;

plant::LoadResult load_result(const PowerStage& stage, const Solution& solved, std::size_t index,
                              double from_s, double to_s) {
  const auto& load = stage.loads[index];
  plant::LoadResult result;
  Signal neutral(solved.points()), lines[3];
  for (auto& line : lines) line.resize(solved.points());
  for (std::size_t leg = 0; leg < load.legs(); ++leg) {
    const std::string name = name_of(index, leg);
    const auto [from, to] = nodes_of(load, index, leg);
    const Signal voltage =
        to == "0" ? solved["v(" + from + ")"] : solved.difference("v(" + from + ")", "v(" + to + ")");
    const Signal& current = solved["i(vleg" + name + ")"];
    const Signal& pair = solved["i(vpair" + name + ")"];
    result.legs[leg] = {solved.rms(voltage, from_s, to_s), solved.rms(current, from_s, to_s),
                        solved.mean_of(voltage, current, from_s, to_s)};
    result.pairs[leg] = {solved.mean_magnitude(pair, from_s, to_s), solved.mean(pair, from_s, to_s),
                         solved.peak(pair, from_s, to_s)};
    const Ends ends = ends_of(load, leg);
    for (std::size_t k = 0; k < pair.size(); ++k) {
      lines[ends.plus][k] += pair[k];
      if (ends.minus >= 0 && !load.three_wire()) lines[ends.minus][k] -= pair[k];
      if (ends.minus < 0) neutral[k] += pair[k];
    }
  }
  for (std::size_t line = 0; line < 3; ++line) {
    result.line_current_A[line] = solved.rms(lines[line], from_s, to_s);
    if (stage.supply.system == System::three_phase || line == 0)
      result.line_power_W[line] =
          solved.mean_of(solved["v(" + bus(static_cast<int>(line)) + ")"], lines[line], from_s, to_s);
  }
  if (!load.three_wire()) result.neutral_current_A = solved.rms(neutral, from_s, to_s);
  return result;
}

}  // namespace

std::vector<plant::NetworkResult> simulate_cycles(const PowerStage& stage, std::size_t first) {
  Circuit circuit = circuit_of(stage);
  const double period_s = 1.0 / stage.supply_state.frequency_Hz;
  circuit.keep_from_s = period_s * (static_cast<double>(first) - 0.01);
  if (first == 0) circuit.keep_from_s = 0.0;
  const Solution solved = simulate(circuit);
  std::vector<plant::NetworkResult> results;
  const bool three_phase = stage.supply.system == System::three_phase;
  for (std::size_t cycle = first; cycle < stage.cycles.size(); ++cycle) {
    const double from_s = period_s * static_cast<double>(cycle), to_s = from_s + period_s;
    auto& result = results.emplace_back();
    for (std::size_t load = 0; load < stage.loads.size(); ++load)
      result.loads.push_back(load_result(stage, solved, load, from_s, to_s));
    std::vector<std::string> lines;
    for (std::size_t phase = 0; phase < (three_phase ? 3U : 1U); ++phase) {
      const std::string p = std::to_string(phase + 1);
      lines.push_back("i(vline" + p + ")");
      result.supply_voltage_V[phase] = solved.rms(solved["v(bus" + p + ")"], from_s, to_s);
      result.supply_current_A[phase] = solved.rms(solved["i(vline" + p + ")"], from_s, to_s);
    }
    result.supply_neutral_A = solved.rms(solved.sum(lines), from_s, to_s);
  }
  return results;
}

}  // namespace emberline::spice

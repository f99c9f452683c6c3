#include "tests/interop/ngspice/power_stage.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <sstream>
#include <string>
#include <utility>

namespace emberline::spice {
namespace {

using plant::Connection;
using plant::System;

constexpr double kNever_ohm = 1e9;  // an interruption
constexpr double kPulse_s = 1e-7;   // what a gate takes to rise and fall

constexpr const char* kDevices = R"(
.subckt thyristor anode cathode gate drop=0
D1 anode inner ideal
S1 inner out held 0 path
Vi out before 0
Vd before cathode {drop}
B1 wanted 0 V=V(gate)+tanh(100*I(Vi))
R1 wanted held 1k
C1 held 0 0.2n
.ends
.model ideal D(IS=1e-12 N=0.01)
.model path SW(VT=0.5 VH=0.1 RON=1e-4 ROFF=1e8))";

std::string text(double value) {
  std::ostringstream out;
  out.precision(15);
  out << value;
  return out.str();
}

struct Window {
  double from_deg;
  double to_deg;
};

class Builder {
 public:
  explicit Builder(const PowerStage& stage) : stage_(stage) {
    circuit_.lines.emplace_back(kDevices);
    three_phase_ = stage.supply.system == System::three_phase;
    period_s_ = 1.0 / stage.supply_state.frequency_Hz;
    circuit_.end_s = period_s_ * static_cast<double>(stage.cycles.size());
    build_supply();
    for (std::size_t load = 0; load < stage.loads.size(); ++load) build_load(load);
  }

  Circuit take() { return std::move(circuit_); }

 private:
  template <class... Parts>
  void add(const Parts&... parts) {
    std::ostringstream line;
    line.precision(15);
    (line << ... << parts);
    circuit_.lines.push_back(line.str());
  }

  void ask(const std::string& vector) {
    if (std::find(circuit_.asked.begin(), circuit_.asked.end(), vector) == circuit_.asked.end())
      circuit_.asked.push_back(vector);
  }

  [[nodiscard]] double lag_deg(std::size_t phase) const {
    return (stage_.supply.reversed ? 240.0 : 120.0) * static_cast<double>(phase);
  }

  /// The supply's voltage behind its impedance, RMS.
  [[nodiscard]] double source_V(std::size_t phase) const {
    const double nominal_V = stage_.supply.voltage_V / (three_phase_ ? std::numbers::sqrt3 : 1.0);
    return nominal_V * stage_.supply.phase_share[phase] * stage_.supply_state.share[phase];
  }

  void build_supply() {
    for (std::size_t phase = 0; phase < (three_phase_ ? 3U : 1U); ++phase) {
      const std::string p = std::to_string(phase + 1);
      add("Ve", p, " e", p, " 0 SIN(0 ", std::numbers::sqrt2 * source_V(phase), " ",
          stage_.supply_state.frequency_Hz, " 0 0 ", -lag_deg(phase), ")");
      add("Vline", p, " e", p, " f", p, " 0");
      const bool open = stage_.supply_state.open[phase];
      in_series("line" + p, "f" + p, "bus" + p, open ? kNever_ohm : stage_.supply.resistance_ohm,
                open ? 0.0 : stage_.supply.inductance_H);
      ask("v(bus" + p + ")");
      ask("i(vline" + p + ")");
    }
  }

  /// A resistance and an inductance, each of which may be 0.
  void in_series(const std::string& name, const std::string& from, const std::string& to, double ohm,
                 double henry) {
    const std::string middle = henry > 0.0 ? name + "_m" : to;
    if (ohm > 0.0)
      add("R", name, " ", from, " ", middle, " ", ohm);
    else
      add("V", name, "_0 ", from, " ", middle, " 0");
    if (henry > 0.0) add("L", name, " ", middle, " ", to, " ", henry);
  }

  /// Where the voltage that counts for the firing angle has its upward zero.
  [[nodiscard]] double zero_deg(std::size_t plus, int minus) const {
    const auto phasor = [&](std::size_t phase) {
      return std::polar(source_V(phase), -lag_deg(phase) * std::numbers::pi / 180.0);
    };
    std::complex<double> voltage = phasor(plus);
    if (minus >= 0) voltage -= phasor(static_cast<std::size_t>(minus));
    return -std::arg(voltage) * 180.0 / std::numbers::pi;
  }

  /// When a gate is held, in degrees of the supply from time 0 on. `zero_deg`: where the half-wave of this
  /// thyristor begins.
  [[nodiscard]] std::vector<Window> windows(std::size_t load, double zero_deg, bool three_wire) const {
    std::vector<Window> result;
    for (std::size_t cycle = 0; cycle < stage_.cycles.size(); ++cycle) {
      const auto& state = stage_.cycles[cycle][load];
      if (!state.connected || state.firing_angle_deg >= 180.0) continue;
      const double begin_deg = 360.0 * static_cast<double>(cycle), end_deg = begin_deg + 360.0;
      // Without a neutral current goes on for 30 degrees beyond the zero of the phase voltage, and two gates
      // have to be there at the same time.
      const double last_deg = three_wire ? 210.0 : 180.0;
      const bool all = state.firing_angle_deg <= 0.0;
      for (int turn = -2; turn <= 1; ++turn) {
        const double zero = begin_deg + zero_deg + 360.0 * turn;
        const double from = std::max(begin_deg, all ? zero : zero + state.firing_angle_deg);
        const double to = std::min(end_deg, all ? zero + 360.0 : zero + last_deg);
        if (from >= to) continue;
        if (!result.empty() && from - result.back().to_deg < 1e-6)
          result.back().to_deg = to;
        else
          result.push_back({from, to});
      }
    }
    return result;
  }

  void build_gate(const std::string& gate, const std::vector<Window>& held) {
    std::ostringstream line;
    line.precision(12);
    line << "V" << gate << " " << gate << " 0 PWL(";
    if (held.empty() || held.front().from_deg > 0.0) line << "0 0 ";
    for (const auto& window : held) {
      const double from_s = window.from_deg / 360.0 * period_s_, to_s = window.to_deg / 360.0 * period_s_;
      // Points on the flat part make ngspice look closely at what the gate has set off.
      if (window.from_deg > 0.0)
        line << from_s - kPulse_s << " 0 " << from_s << " 1 ";
      else
        line << "0 1 ";
      for (double later_s : {0.2e-6, 0.5e-6, 1e-6}) line << from_s + later_s << " 1 ";
      line << to_s << " 1 " << to_s + kPulse_s << " 0 ";
    }
    line << ")";
    circuit_.lines.push_back(line.str());
  }

  void build_thyristor(const std::string& name, const std::string& from, const std::string& to, bool open,
                       bool shorted, double drop_V, const std::vector<Window>& held) {
    if (open) return;
    if (shorted)
      add("Vg", name, " g", name, " 0 1");
    else
      build_gate("g" + name, held);
    add("X", name, " ", from, " ", to, " g", name, " thyristor drop=", drop_V);
  }

  struct Names {
    std::string name;  // of the pair
    std::string from;  // busbar's side
    std::string to;    // load's side
  };

  /// Gates count from `zero_deg`; a leg's nominal voltage says what leaks.
  void build_pair(std::size_t load, std::size_t leg, const Names& names, double zero_deg, double nominal_V) {
    const auto& parameters = stage_.loads[load];
    const auto& state = stage_.cycles.front()[load].legs[leg];
    const std::string sensed = "s" + names.name;
    ask("i(vpair" + names.name + ")");
    add("Vpair", names.name, " ", names.from, " ", sensed, " 0");
    add("Roff", names.name, " ", sensed, " ", names.to, " ", kNever_ohm);
    if (state.fuse_open || !stage_.cycles.front()[load].connected) return;
    if (parameters.leakage_A > 0.0)
      add("Rleak", names.name, " ", sensed, " ", names.to, " ", nominal_V / parameters.leakage_A);
    const bool wires = parameters.three_wire();
    build_thyristor("f" + names.name, sensed, names.to, state.forward_open, state.forward_shorted,
                    parameters.thyristor_drop_V, windows(load, zero_deg, wires));
    build_thyristor("b" + names.name, names.to, sensed, state.backward_open, state.backward_shorted,
                    parameters.thyristor_drop_V, windows(load, zero_deg + 180.0, wires));
  }

  /// Elements, with a transformer in front if there is one.
  void build_leg(std::size_t load, std::size_t leg, const std::string& name, const std::string& from,
                 const std::string& to, double nominal_V) {
    const auto& parameters = stage_.loads[load];
    const auto& state = stage_.cycles.front()[load];
    const double ohm = plant::leg_resistance_ohm(parameters, leg, state.element_degC, state.legs[leg]);
    const double element_ohm = std::isinf(ohm) ? kNever_ohm : ohm;
    const double inductance_H = std::isinf(ohm) ? 0.0 : parameters.inductance_H[leg];
    const std::string sensed = "t" + name;
    add("Vleg", name, " ", from, " ", sensed, " 0");
    ask("v(" + from + ")");
    if (to != "0") ask("v(" + to + ")");
    ask("i(vleg" + name + ")");
    if (!parameters.transformer) {
      in_series("leg" + name, sensed, to, element_ohm, inductance_H);
      return;
    }
    const auto& core = *parameters.transformer;
    const double square = core.ratio * core.ratio;
    in_series("winding" + name, sensed, "core" + name, core.winding_resistance_ohm,
              core.leakage_inductance_H);
    in_series("leg" + name, "core" + name, to, element_ohm * square, inductance_H * square);
    // The flux is the charge of 1 F, in Vs; its curve has a bend.
    const double peak_Vs =
        std::numbers::sqrt2 * nominal_V / (2.0 * std::numbers::pi * stage_.supply.frequency_Hz);
    const std::string flux = "flux" + name;
    add("B", flux, " 0 ", flux, " I=V(core", name, ",", to, ")");
    add("C", flux, " ", flux, " 0 1 IC=", core.remanence * peak_Vs);
    const double knee_Vs = core.knee * peak_Vs;
    add("Bm", name, " core", name, " ", to, " I=V(", flux, ")/", text(core.magnetising_inductance_H),
        "+(max(V(", flux, ")-", text(knee_Vs), ",0)+min(V(", flux, ")+", text(knee_Vs), ",0))*",
        text(1.0 / core.saturated_inductance_H - 1.0 / core.magnetising_inductance_H));
  }

  void build_load(std::size_t load);
  void build_single(std::size_t load);

  const PowerStage& stage_;
  Circuit circuit_;
  bool three_phase_ = true;
  double period_s_ = 0.02;
};

std::string name_of(std::size_t load, std::size_t leg) {
  return std::to_string(load + 1) + "_" + std::to_string(leg + 1);
}

struct Ends {
  int plus;
  int minus;  // -1: the neutral
};

Ends ends_of(const plant::LoadParameters& load, std::size_t leg) {
  const int p = static_cast<int>(leg);
  if (load.connection == Connection::open_delta || load.connection == Connection::delta)
    return {p, (p + 1) % 3};
  if (load.connection != Connection::single_phase) return {p, -1};
  switch (load.across) {
    case plant::Across::l1_n:
      return {0, -1};
    case plant::Across::l2_n:
      return {1, -1};
    case plant::Across::l3_n:
      return {2, -1};
    case plant::Across::l1_l2:
      return {0, 1};
    case plant::Across::l2_l3:
      return {1, 2};
    case plant::Across::l3_l1:
      return {2, 0};
  }
  return {0, -1};
}

std::string bus(int phase) { return phase < 0 ? "0" : "bus" + std::to_string(phase + 1); }

/// The nodes between which a leg lies.
std::pair<std::string, std::string> nodes_of(const plant::LoadParameters& load, std::size_t index,
                                             std::size_t leg) {
  const std::string here = "c" + name_of(index, leg);
  if (load.connection == Connection::star_3_wire) return {here, "star" + std::to_string(index + 1)};
  if (load.connection == Connection::delta) return {here, "c" + name_of(index, (leg + 1) % 3)};
  return {here, bus(ends_of(load, leg).minus)};
}

void Builder::build_load(std::size_t load) {
  const auto& parameters = stage_.loads[load];
  const double phase_V = stage_.supply.voltage_V / (three_phase_ ? std::numbers::sqrt3 : 1.0);
  for (std::size_t leg = 0; leg < parameters.legs(); ++leg) {
    const Ends ends = ends_of(parameters, leg);
    const std::string name = name_of(load, leg);
    const auto [from, to] = nodes_of(parameters, load, leg);
    const bool between_lines = ends.minus >= 0;
    const double leg_V = between_lines ? stage_.supply.voltage_V : phase_V;
    const bool in_line = parameters.three_wire();
    if (in_line && parameters.controlled_legs == 2 && leg == 2) {
      add("Vpair", name, " ", bus(2), " ", from, " 0");
      ask("i(vpair" + name + ")");
    } else {
      build_pair(load, leg, {name, bus(ends.plus), from},
                 zero_deg(static_cast<std::size_t>(ends.plus), in_line ? -1 : ends.minus),
                 in_line ? phase_V : leg_V);
    }
    build_leg(load, leg, name, from, to, leg_V);
  }
}

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
  if (load.connection == Connection::star_4_wire)
    result.neutral_current_A = solved.rms(neutral, from_s, to_s);
  return result;
}

}  // namespace

Circuit circuit_of(const PowerStage& stage) { return Builder(stage).take(); }

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

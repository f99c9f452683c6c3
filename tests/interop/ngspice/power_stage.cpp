#include "tests/interop/ngspice/power_stage.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <sstream>
#include <string>
#include <utility>

#include "tests/interop/ngspice/gates.hpp"
#include "tests/interop/ngspice/places.hpp"

namespace emberline::spice {
namespace {

using plant::Connection;
using plant::System;

constexpr double kNever_ohm = 1e10;  // an interruption
constexpr double kOff_ohm = 1e7;     // beside thyristors: much less than an interruption
constexpr double kLoose_ohm = 1e9;
constexpr double kBeside = 1e4;        // resistance beside an inductance, as a multiple of its reactance
constexpr double kBesideSource = 1e4;  // likewise, where all thyristors meet
constexpr double kPulse_s = 1e-7;      // what a gate takes to rise and fall

constexpr const char* kDevices = R"(
.subckt thyristor anode cathode gate drop=0
D1 anode inner ideal
S1 inner out held 0 path
Vi out before 0
Vd before cathode {drop}
B1 wanted 0 V=V(gate)+tanh(1e3*I(Vi))
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

class Builder {
 public:
  explicit Builder(const PowerStage& stage) : stage_(stage) {
    circuit_.lines.emplace_back(kDevices);
    three_phase_ = stage.supply.system == System::three_phase;
    period_s_ = 1.0 / stage.supply_state.frequency_Hz;
    circuit_.end_s = period_s_ * static_cast<double>(stage.cycles.size());
    circuit_.step_s = stage.step_s;
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
                open ? 0.0 : stage_.supply.inductance_H, kBesideSource);
      ask("v(bus" + p + ")");
      ask("i(vline" + p + ")");
    }
  }

  /// A resistance and an inductance, each of which may be 0.
  void in_series(const std::string& name, const std::string& from, const std::string& to, double ohm,
                 double henry, double beside = kBeside) {
    const std::string middle = henry > 0.0 ? name + "_m" : to;
    if (ohm > 0.0)
      add("R", name, " ", from, " ", middle, " ", ohm);
    else
      add("V", name, "_0 ", from, " ", middle, " 0");
    if (henry <= 0.0) return;
    add("L", name, " ", middle, " ", to, " ", henry);
    // What the voltage does on its other side when its current has just ended has to be a matter of less than
    // a picosecond to nobody.
    add("R", name, "_p ", middle, " ", to, " ",
        beside * 2.0 * std::numbers::pi * stage_.supply.frequency_Hz * henry);
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

  void build_gate(const std::string& gate, const std::vector<GateWindow>& held) {
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
      // Gone before, not after the zero at which it ends: whole half-waves would go on for one more.
      line << to_s - 2.0 * kPulse_s << " 1 " << to_s - kPulse_s << " 0 ";
    }
    line << ")";
    circuit_.lines.push_back(line.str());
  }

  void build_thyristor(const std::string& name, const std::string& from, const std::string& to, bool open,
                       bool shorted, double drop_V, const std::vector<GateWindow>& held) {
    if (open) return;
    if (shorted)
      add("Vg", name, " g", name, " 0 1");
    else
      build_gate("g" + name, held);
    add("X", name, " ", from, " ", to, " g", name, " thyristor drop=", shorted ? 0.0 : drop_V);
  }

  /// A leg of a load with the pair of thyristors in front of it (delta: in the line of the same number).
  struct Place {
    std::size_t load, leg;
    std::string name;
    std::string bus;       // in front of the thyristors
    std::string from, to;  // ends of the elements
    double zero_deg;       // from which the firing angle counts
    double nominal_V;      // across the elements
  };

  void build_pair(const Place& at) {
    const auto& parameters = stage_.loads[at.load];
    const auto& command = stage_.cycles.front()[at.load];
    const auto& state = command.legs[at.leg];
    const std::string& name = at.name;
    const std::string sensed = "s" + name;
    ask("i(vpair" + name + ")");
    if (parameters.three_wire() && parameters.controlled_legs == 2 && at.leg == 2) {
      add("Vpair", name, " ", at.bus, " ", at.from, " 0");
      return;
    }
    add("Vpair", name, " ", at.bus, " ", sensed, " 0");
    add("Roff", name, " ", sensed, " ", at.from, " ", kOff_ohm);
    if (state.fuse_open || !command.connected) return;
    if (parameters.leakage_A > 0.0)
      add("Rleak", name, " ", sensed, " ", at.from, " ", at.nominal_V / parameters.leakage_A);
    build_thyristor("f" + name, sensed, at.from, state.forward_open, state.forward_shorted,
                    parameters.thyristor_drop_V, gate_windows(stage_, at.load, at.leg, at.zero_deg));
    build_thyristor("b" + name, at.from, sensed, state.backward_open, state.backward_shorted,
                    parameters.thyristor_drop_V, gate_windows(stage_, at.load, at.leg, at.zero_deg + 180.0));
  }

  /// Elements, with a transformer in front if there is one.
  void build_leg(const Place& at) {
    const auto& parameters = stage_.loads[at.load];
    const auto& state = stage_.cycles.front()[at.load];
    const double ohm = plant::leg_resistance_ohm(parameters, at.leg, state.element_degC, state.legs[at.leg]);
    const double element_ohm = std::isinf(ohm) ? kNever_ohm : ohm;
    const double inductance_H = std::isinf(ohm) ? 0.0 : parameters.inductance_H[at.leg];
    const std::string sensed = "t" + at.name;
    add("Vleg", at.name, " ", at.from, " ", sensed, " 0");
    ask("v(" + at.from + ")");
    if (at.to != "0") ask("v(" + at.to + ")");
    ask("i(vleg" + at.name + ")");
    if (!parameters.transformer) {
      in_series("leg" + at.name, sensed, at.to, element_ohm, inductance_H);
      return;
    }
    const double square = parameters.transformer->ratio * parameters.transformer->ratio;
    in_series("winding" + at.name, sensed, "core" + at.name, parameters.transformer->winding_resistance_ohm,
              parameters.transformer->leakage_inductance_H);
    in_series("leg" + at.name, "core" + at.name, at.to, element_ohm * square, inductance_H * square);
    build_core(at, *parameters.transformer);
  }

  /// What magnetises the core. Its flux is the charge of 1 F, in Vs; its curve has a bend.
  void build_core(const Place& at, const plant::TransformerParameters& core) {
    const std::string flux = "flux" + at.name, rest = "rest" + at.name;
    const double peak_Vs =
        std::numbers::sqrt2 * at.nominal_V / (2.0 * std::numbers::pi * stage_.supply.frequency_Hz);
    const double knee_Vs = core.knee * peak_Vs, rest_Vs = core.remanence * peak_Vs;
    add("B", flux, " 0 ", flux, " I=V(core", at.name, ",", at.to, ")");
    add("C", flux, " ", flux, " 0 1 IC=", rest_Vs);
    // Until it is fired for the first time, the core rests at what has remained in it.
    const auto gates = gate_windows(stage_, at.load, at.leg, at.zero_deg);
    const double fired_s = gates.empty() ? circuit_.end_s : gates.front().from_deg / 360.0 * period_s_;
    if (fired_s > 0.0)
      add("V", rest, " ", rest, " 0 PWL(0 ", rest_Vs, " ", fired_s, " ", rest_Vs, " ", fired_s + kPulse_s,
          " 0)");
    else
      add("V", rest, " ", rest, " 0 0");
    const std::string beyond =
        "(max(V(" + flux + ")-" + text(knee_Vs) + ",0)+min(V(" + flux + ")+" + text(knee_Vs) + ",0))";
    add("Bm", at.name, " core", at.name, " ", at.to, " I=(V(", flux, ")-V(", rest, "))/",
        text(core.magnetising_inductance_H), "+", beyond, "*",
        text(1.0 / core.saturated_inductance_H - 1.0 / core.magnetising_inductance_H));
  }

  void build_load(std::size_t load);

  const PowerStage& stage_;
  Circuit circuit_;
  bool three_phase_ = true;
  double period_s_ = 0.02;
};

void Builder::build_load(std::size_t load) {
  const auto& parameters = stage_.loads[load];
  const double phase_V = stage_.supply.voltage_V / (three_phase_ ? std::numbers::sqrt3 : 1.0);
  for (std::size_t leg = 0; leg < parameters.legs(); ++leg) {
    const Ends ends = ends_of(parameters, leg);
    const auto [from, to] = nodes_of(parameters, load, leg);
    const int counts_to = parameters.three_wire() ? -1 : ends.minus;
    const Place at{load,
                   leg,
                   name_of(load, leg),
                   bus(ends.plus),
                   from,
                   to,
                   zero_deg(static_cast<std::size_t>(ends.plus), counts_to),
                   ends.minus >= 0 ? stage_.supply.voltage_V : phase_V};
    build_pair(at);
    build_leg(at);
  }
  // Nothing else says where a star point is while all are off.
  if (parameters.connection == Connection::star_3_wire)
    add("Rstar", load + 1, " star", load + 1, " 0 ", kLoose_ohm);
}

}  // namespace

Circuit circuit_of(const PowerStage& stage) { return Builder(stage).take(); }

}  // namespace emberline::spice

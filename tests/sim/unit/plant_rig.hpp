#pragma once

#include <algorithm>
#include <cmath>
#include <functional>

#include "tests/sim/unit/rig.hpp"

namespace emberline::unit {

/// A unit on a load in star with neutral, or single-phase, that a test breaks as it likes: mains cycle by
/// mains cycle, as the bench would measure it. 50 Hz, 230 V, the unit rated 63 A, each leg 5 ohm: 46 A.
struct PlantRig : Rig {
  static constexpr Duration kCycle = 20ms;
  static constexpr double kNominal_V = 230.0;
  static constexpr double kRated_A = 63.0;

  explicit PlantRig(UnitSpec unit_spec, int phases = 3) : Rig(std::move(unit_spec)) {
    measured.phases = phases;
    measured.cycle.used = {true, phases == 3, phases == 3};
    step();
  }

  /// One mains cycle with what the unit drives now.
  void step() {
    const double output = unit.drive().output;
    burst_sum += output;
    const bool on = in_bursts(spec.firing.mode) ? burst_sum >= 1.0 - 1e-9 : output > 0.0;
    if (in_bursts(spec.firing.mode) && on) burst_sum -= 1.0;
    now += kCycle;
    fill(on, in_bursts(spec.firing.mode) ? 1.0 : output);
    if (change) change(measured);
    unit.run_timers(at(now));
    unit.measure(at(now), measured);
    unit.advance(at(now), full());
  }
  /// Cycles until this much later.
  void go(Duration length) {
    for (const Duration end = now + length; now < end;) step();
  }
  /// Cycles until a warning or a trip is there, at most so long. Since when.
  template <class Condition>
  std::optional<Duration> until(Condition condition, Duration longest = 60s) {
    for (const Duration end = now + longest; now < end;) {
      step();
      if (condition()) return now;
    }
    return std::nullopt;
  }
  void set(int per_mille) { write(kSetpoint, per_mille, now); }
  /// Only read the state, so that comms are there.
  void poll() { read(now); }

  [[nodiscard]] bool trips(registers::Trip trip) const {
    return (static_cast<std::uint32_t>(value(Point::trips)) & registers::bit(trip)) != 0;
  }
  [[nodiscard]] bool warned(registers::Warning warning) const { return warns(warning); }

  [[nodiscard]] FullConduction full() const {
    FullConduction all;
    if (!contactor) return all;
    for (std::size_t leg = 0; leg < legs(); ++leg) {
      all.voltage_V += supply_V[leg] / static_cast<double>(legs());
      all.current_A += supply_V[leg] * leg_S[leg] / static_cast<double>(legs());
      all.highest_A = std::max(all.highest_A, supply_V[leg] * leg_S[leg]);
      all.power_W += supply_V[leg] * supply_V[leg] * leg_S[leg];
    }
    return all;
  }
  [[nodiscard]] std::size_t legs() const { return measured.phases == 1 ? 1 : 3; }

  std::array<double, 3> supply_V{230.0, 230.0, 230.0};
  /// What the voltages between the lines are; nothing: what 120 degrees between supply_V make of them.
  std::optional<std::array<double, 3>> between_V;
  std::array<double, 3> leg_S{0.2, 0.2, 0.2};
  double off_A = 0.0;  ///< in every line of the unit while it does not fire
  double frequency_Hz = 50.0;
  bool contactor = true;
  std::function<double(double)> law = [](double output) { return output; };  ///< output to share of power
  std::function<void(Measured&)> change;                                     ///< whatever else is to be seen
  Measured measured;
  Duration now{};

 private:
  void fill(bool on, double output) {
    CycleSeen& cycle = measured.cycle;
    cycle.nominal_supply_V = kNominal_V;
    cycle.nominal_frequency_Hz = 50.0;
    cycle.frequency_Hz = frequency_Hz;
    cycle.supply_V = supply_V;
    if (measured.phases == 3) {
      cycle.nominal_between_V = kNominal_V * std::sqrt(3.0);
      for (std::size_t line = 0; line < 3; ++line) {
        const double a_V = supply_V[line];
        const double b_V = supply_V[(line + 1) % 3];
        cycle.between_V[line] = between_V ? (*between_V)[line] : std::sqrt(a_V * a_V + b_V * b_V + a_V * b_V);
      }
    }
    cycle.output = output;
    cycle.fired = on;
    cycle.fired_fully = on && output >= 1.0;
    cycle.power_W = 0.0;
    measured.supply_present = contactor;
    const double root = on && contactor ? std::sqrt(law(output)) : 0.0;
    for (std::size_t leg = 0; leg < legs(); ++leg) {
      cycle.load_V[leg] = root * supply_V[leg];
      cycle.load_A[leg] = cycle.load_V[leg] * leg_S[leg];
      cycle.line_A[leg] = on ? cycle.load_A[leg] : (contactor ? off_A : 0.0);
      cycle.power_W += cycle.load_V[leg] * cycle.load_A[leg];
    }
  }
  double burst_sum = 0.0;
};

/// Open loop, no comms supervision, 63 A.
inline UnitSpec plant_spec() {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.rated_current_A = PlantRig::kRated_A;
  spec.rated_voltage_V = PlantRig::kNominal_V;
  return spec;
}

inline ProtectionSpec& of(UnitSpec& spec, Protection protection) {
  return spec.protections[static_cast<std::size_t>(protection)];
}

}  // namespace emberline::unit

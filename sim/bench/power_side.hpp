#pragma once

#include <array>
#include <vector>

#include "plant-models/electrical/burst.hpp"
#include "plant-models/electrical/network.hpp"
#include "plant-models/electrical/rms_window.hpp"
#include "plant-models/thermal/thermal_plant.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::bench {

/// Supply, power stages, loads, meters and heat of the bench. Between two calls everything electrical is
/// constant; whoever changes a drive or a contactor first lets the time up to then pass, then settles the new
/// conditions.
class PowerSide {
 public:
  PowerSide(const BenchSpec& spec, double plant_speed);

  /// Lets the time up to `now` pass under the conditions of the last settle(): meters, energy and heat move
  /// on.
  void pass(SimTime now);
  /// A unit's drive for the time to come; takes effect with settle().
  void set_drive(std::size_t unit, const unit::Drive& drive);
  void set_connected(std::size_t unit, bool connected);
  /// At a whole mains cycle: burst firing decides whether its next cycle conducts.
  void begin_cycle();
  /// Solves the network for the time to come.
  void settle();

  /// What the load could take at full conduction, neighbours as they are.
  [[nodiscard]] unit::FullConduction full_conduction(std::size_t unit) const;
  /// What the unit's meters show for the window that ends now.
  [[nodiscard]] unit::Measured measured(std::size_t unit) const;
  /// True while a unit passes some cycles and holds back others.
  [[nodiscard]] bool bursting() const;

  [[nodiscard]] double supply_voltage_V(std::size_t phase) const { return result_.supply_voltage_V[phase]; }
  [[nodiscard]] double frequency_Hz() const { return frequency_Hz_; }
  [[nodiscard]] double zone_degC(std::size_t zone) const { return heat_.zone_degC(zone); }
  [[nodiscard]] double zone_measured_degC(std::size_t zone) const { return heat_.measured_degC(zone); }

 private:
  // Mean squares of voltages and currents, means of powers.
  enum Channel : std::size_t {
    kVoltage = 0,
    kCurrent = 3,
    kPower = 6,
    kLine = 9,
    kNeutral = 12,
    kSupply = 13,
    kChannels = 16
  };
  using Meter = plant::SlidingMean<kChannels>;
  struct Stage {
    unit::FiringMode mode;
    int phases;
    unit::Drive drive;
    plant::SpreadBurst burst;
    bool cycle_on = false;
    Meter meter;
    double energy_J = 0.0;
  };
  void refresh_conduction(std::size_t unit);

  double frequency_Hz_;
  double plant_speed_;
  plant::Network network_;
  plant::ThermalPlant heat_;
  std::vector<Stage> stages_;
  std::vector<plant::Conduction> conduction_;
  plant::NetworkResult result_;
  std::vector<Meter::Values> stretch_;   ///< what each meter sees until the next settle
  std::vector<double> element_power_W_;  ///< likewise, for the heat
  SimTime since_{};
};

/// An averaging time rounded to whole mains cycles, at least one.
[[nodiscard]] Duration whole_cycles(Duration averaging, double frequency_Hz);

}  // namespace emberline::bench

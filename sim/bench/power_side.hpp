#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "plant-models/electrical/burst.hpp"
#include "plant-models/electrical/fuse.hpp"
#include "plant-models/electrical/heat_sink.hpp"
#include "plant-models/electrical/network.hpp"
#include "plant-models/electrical/rms_window.hpp"
#include "plant-models/thermal/thermal_plant.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/bench/bench_state.hpp"
#include "sim/bench/demand_meter.hpp"
#include "sim/bench/power_stage.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::bench {

/// What the incoming meter of the bench shows, over the default averaging time.
struct SupplyMeter {
  std::array<double, 3> voltage_V{};  ///< RMS line-neutral at the busbar, of the present cycle
  std::array<double, 3> current_A{};  ///< RMS
  double neutral_A = 0.0;             ///< RMS
  double power_W = 0.0;               ///< of loads and thyristors
  double apparent_VA = 0.0;           ///< sum over the phases of RMS voltage times RMS current
  double demand_W = 0.0;
  double peak_demand_W = 0.0;
};

/// Supply, power stages, loads, meters and heat of the bench. Between two calls everything electrical is
/// constant; whoever changes a contactor, a fault or, in the middle of a cycle, a drive first lets the time
/// up to then pass, then settles the new conditions.
class PowerSide {
 public:
  /// `starts_from` is how hot it is at the start; nothing: as the spec says.
  PowerSide(const BenchSpec& spec, double plant_speed, std::uint64_t seed,
            const std::optional<BenchState>& starts_from);

  /// Lets the time up to `now` pass under the conditions of the last settle(): meters, energy and heat move
  /// on.
  void pass(SimTime now);
  /// From now on, after pass().
  void set_plant_speed(double factor) { plant_speed_ = factor; }
  [[nodiscard]] double plant_speed() const { return plant_speed_; }
  /// A unit's drive from the next cycle on, between end_cycle() and begin_cycle(). True if it moves what
  /// meters show.
  bool set_drive(std::size_t unit, const unit::Drive& drive);
  /// In the middle of a cycle; takes effect with settle().
  void change_drive(std::size_t unit, const unit::Drive& drive);
  void set_connected(std::size_t unit, bool connected);
  /// At a whole mains cycle, after pass(): what the cycle that ended was like is what protections see from
  /// now on.
  void end_cycle();
  /// Then, with the drives of the instant: bursts decide whether their next cycle conducts.
  void begin_cycle();
  /// Solves the network for the time to come.
  void settle();

  // --- faults, in force with the next settle()
  [[nodiscard]] const plant::SupplyState& supply_state() const { return supply_; }
  void set_supply_state(const plant::SupplyState& state) {
    supply_ = state;
    ++told_version_;
    ++supply_version_;
  }
  [[nodiscard]] PowerStage& stage(std::size_t unit) { return units_[unit].stage; }
  [[nodiscard]] const PowerStage& stage(std::size_t unit) const { return units_[unit].stage; }
  /// As PowerStage::set_leg, fuse included.
  void set_leg(std::size_t unit, std::size_t leg, const plant::LegState& state);
  /// The heat sink; null for a unit without one.
  [[nodiscard]] plant::HeatSink* heat_sink(std::size_t unit);
  [[nodiscard]] const plant::HeatSink* heat_sink(std::size_t unit) const;
  void set_sensor_fault(std::size_t unit, bool broken) { units_[unit].sensor_fault = broken; }
  /// Fuses that melted since the last call, as unit and leg.
  struct Melted {
    std::size_t unit;
    std::size_t leg;
  };
  [[nodiscard]] std::vector<Melted> take_melted();

  /// What the load could take at full conduction, neighbours as they are.
  [[nodiscard]] unit::FullConduction full_conduction(std::size_t unit) const;
  /// What the unit's meters show for the window that ends now.
  [[nodiscard]] unit::Measured measured(std::size_t unit) const;
  /// True while cycles may differ from each other although nobody changes anything.
  [[nodiscard]] bool restless() const;

  [[nodiscard]] SupplyMeter supply_meter() const;
  [[nodiscard]] double supply_voltage_V(std::size_t phase) const { return result_.supply_voltage_V[phase]; }
  [[nodiscard]] double frequency_Hz() const { return supply_.frequency_Hz; }
  [[nodiscard]] double zone_degC(std::size_t zone) const { return heat_.zone_degC(zone); }
  [[nodiscard]] double zone_measured_degC(std::size_t zone) const { return heat_.measured_degC(zone); }
  [[nodiscard]] const plant::ThermalPlant& heat() const { return heat_; }
  /// Adds zones and units to `state`, with their heat and energy.
  void save(BenchState& state) const;
  [[nodiscard]] plant::Waves waves(std::size_t unit) const { return network_.waves(unit, supply_, told_); }

 private:
  // Mean squares of voltages and currents, means of powers and of currents.
  enum Channel : std::size_t {
    kVoltage = 0,
    kCurrent = 3,
    kPower = 6,
    kLine = 9,
    kNeutral = 12,
    kSupply = 13,
    kMeanLine = 16,
    kLinePower = 19,
    kChannels = 22
  };
  enum SupplyChannel : std::size_t {
    kTotalVoltage = 0,
    kTotalCurrent = 3,
    kTotalNeutral = 6,
    kTotalPower = 7,
    kSupplyChannels = 8
  };
  using Meter = plant::SlidingMean<kChannels>;
  using TotalMeter = plant::SlidingMean<kSupplyChannels>;
  /// A unit with its meters.
  struct UnitSide {
    PowerStage stage;
    Meter meter;
    DemandMeter demand;
    bool single_phase;
    double energy_J = 0.0;
    double power_W = 0.0;  ///< of the load, until the next settle, as is
    double loss_W = 0.0;   ///< that in the thyristors
    bool sensor_fault = false;
    bool connected = true;
    std::optional<plant::HeatSink> heat_sink;
    std::optional<std::array<plant::Fuse, 3>> fuses;
    unit::CycleSeen seen;
    /// What the window shows while it is uniform; dropped as soon as pass() appends something else to it.
    mutable std::optional<unit::Measured> steady;
  };
  /// A ring of units with a fixed base.
  struct Ring {
    plant::BurstRing burst;
    std::vector<std::size_t> units;
    std::vector<double> duties;  ///< of the cycle that has begun
  };
  /// Which of the network's lines and legs a unit's own first, second and third are.
  [[nodiscard]] std::size_t line_of(std::size_t unit, std::size_t own) const;
  void begin_at(const BenchState& state);
  void make_rings();
  void tell(std::size_t unit);
  void feed_meters();
  void look_at_cycle(std::size_t unit);
  [[nodiscard]] double supply_of(std::size_t unit, std::size_t own) const;
  [[nodiscard]] double line_power_of(std::size_t unit, std::size_t own) const;
  [[nodiscard]] bool alive(std::size_t unit) const;
  void pass_unit(std::size_t unit, Duration length);
  [[nodiscard]] unit::Measured window_of(std::size_t unit) const;

  const BenchSpec& spec_;
  double plant_speed_;
  plant::Network network_;
  plant::ThermalPlant heat_;
  plant::SupplyState supply_;
  std::vector<UnitSide> units_;
  std::vector<Ring> rings_;
  std::vector<plant::Conduction> told_;
  plant::NetworkResult result_;
  std::vector<Meter::Values> stretch_;  ///< what each meter sees until the next settle
  TotalMeter::Values total_stretch_{};
  TotalMeter total_meter_;
  DemandMeter total_demand_;
  std::vector<double> element_power_W_;  ///< likewise, what turns into heat in the elements
  std::vector<Melted> melted_;
  /// Goes up when the network is told something else: supply, contactors, firing, legs, warmer elements. What
  /// was worked out for an older one is out of date: result_ (solved_version_) and full_.
  std::uint64_t told_version_ = 1;
  std::uint64_t solved_version_ = 0;
  std::uint64_t supply_version_ = 0;  ///< goes up with the supply alone
  struct Full {
    std::uint64_t version = ~std::uint64_t{0};
    /// It depends on this unit and the supply alone: it holds until they are told something else than when to
    /// fire.
    bool its_own = false;
    std::uint64_t supply_version = 0;
    unit::FullConduction full;
  };
  mutable std::vector<Full> full_;
  SimTime since_{};
};

/// An averaging time rounded to whole mains cycles, at least one.
[[nodiscard]] Duration whole_cycles(Duration averaging, double frequency_Hz);

}  // namespace emberline::bench

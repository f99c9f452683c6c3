#pragma once

#include <array>
#include <optional>

#include "plant-models/electrical/burst.hpp"
#include "plant-models/electrical/load.hpp"
#include "sim/base/random.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::bench {

/// The thyristors of one unit: turns what the unit drives into what the network is told of the next cycle.
/// Bursts with a fixed base are decided by a ring outside, which may be shared with other units.
class PowerStage {
 public:
  /// `entry` must outlive the stage.
  PowerStage(const UnitEntry& entry, double frequency_Hz, std::uint64_t seed);

  [[nodiscard]] unit::FiringMode mode() const { return entry_->unit.firing.mode; }
  [[nodiscard]] const unit::Drive& drive() const { return drive_; }
  /// Between two cycles: for the one that begins.
  void set_drive(const unit::Drive& drive);
  /// In the middle of a cycle, for the rest of it as well. Bursts only go off so: on they wait.
  void change_drive(const unit::Drive& drive);

  /// A mains cycle begins; `ring_on` is the ring's word for units with a fixed base.
  void begin_cycle(bool ring_on);
  /// Firing and legs of the present cycle, into what the network is told.
  void tell(plant::Conduction& conduction) const;

  [[nodiscard]] bool fired() const { return firing_angle_deg() < kOff_deg; }
  /// From the beginning to the end of every half-wave.
  [[nodiscard]] bool fired_fully() const { return firing_angle_deg() <= 0.0; }
  /// The angle comes down from 180 degrees still.
  [[nodiscard]] bool soft_starting() const;
  /// The next cycles may differ from this one by themselves.
  [[nodiscard]] bool restless() const;

  [[nodiscard]] const plant::LegState& leg(std::size_t leg) const { return legs_[leg]; }
  void set_leg(std::size_t leg, const plant::LegState& state) { legs_[leg] = state; }
  [[nodiscard]] double misfiring(std::size_t leg, bool forward) const {
    return misfiring_[leg][forward ? 0 : 1];
  }
  void set_misfiring(std::size_t leg, bool forward, double share);

 private:
  static constexpr double kOff_deg = 180.0;
  [[nodiscard]] double commanded_angle_deg() const;
  [[nodiscard]] double firing_angle_deg() const;
  void draw_misfires();

  const UnitEntry* entry_;
  double soft_start_cycles_;
  unit::Drive drive_;
  double angle_deg_ = kOff_deg;  ///< phase angle: of the drive, without a soft start
  plant::SpreadBurst spread_;
  bool cycle_on_ = false;  ///< bursts: the present cycle conducts
  int cycles_fired_ = 0;   ///< since conduction began, the present one included
  std::array<plant::LegState, 3> legs_{};
  std::array<std::array<double, 2>, 3> misfiring_{};  ///< share of missed pulses, forward and backward
  std::array<std::array<bool, 2>, 3> missed_{};       ///< in the present cycle
  Random chance_;
};

}  // namespace emberline::bench

#include "sim/bench/power_stage.hpp"

#include <algorithm>

#include "plant-models/electrical/phase_control.hpp"

namespace emberline::bench {

PowerStage::PowerStage(const UnitEntry& entry, double frequency_Hz, std::uint64_t seed)
    : entry_(&entry),
      soft_start_cycles_(to_seconds(entry.unit.firing.soft_start) * frequency_Hz),
      chance_(seed) {}

void PowerStage::set_drive(const unit::Drive& drive) {
  if (drive == drive_) return;
  drive_ = drive;
  // The law's inverse takes time; in steady firing the drive stays as it is.
  if (!unit::in_bursts(mode()) && drive.output > 0.0)
    angle_deg_ =
        drive.held_angle_deg.value_or(plant::angle_of_power_share(drive.output, entry_->load.connection));
  if (drive.output > 0.0) return;
  cycle_on_ = false;
  cycles_fired_ = 0;
  spread_.reset();
}

void PowerStage::change_drive(const unit::Drive& drive) {
  set_drive(drive);
  // Conduction that begins here has its first cycle in what is left of this one.
  if (drive.output > 0.0 && !unit::in_bursts(mode())) cycles_fired_ = std::max(cycles_fired_, 1);
}

void PowerStage::begin_cycle(bool ring_on) {
  switch (mode()) {
    case unit::FiringMode::phase_angle:
      cycle_on_ = drive_.output > 0.0;
      break;
    case unit::FiringMode::burst_spread:
      cycle_on_ = spread_.next_cycle(drive_.output);
      break;
    case unit::FiringMode::burst:
      cycle_on_ = ring_on && drive_.output > 0.0;
      break;
  }
  cycles_fired_ = cycle_on_ ? std::min(cycles_fired_ + 1, 1'000'000) : 0;
  draw_misfires();
}

void PowerStage::draw_misfires() {
  for (std::size_t leg = 0; leg < misfiring_.size(); ++leg)
    for (std::size_t way = 0; way < 2; ++way)
      missed_[leg][way] = misfiring_[leg][way] > 0.0 && chance_.unit() < misfiring_[leg][way];
}

void PowerStage::set_misfiring(std::size_t leg, bool forward, double share) {
  misfiring_[leg][forward ? 0 : 1] = share;
  if (share <= 0.0) missed_[leg][forward ? 0 : 1] = false;
}

double PowerStage::commanded_angle_deg() const {
  if (unit::in_bursts(mode())) return cycle_on_ ? 0.0 : kOff_deg;
  return drive_.output > 0.0 ? angle_deg_ : kOff_deg;
}

bool PowerStage::soft_starting() const {
  return cycles_fired_ > 0 && static_cast<double>(cycles_fired_) - 0.5 < soft_start_cycles_;
}

double PowerStage::firing_angle_deg() const {
  const double commanded = commanded_angle_deg();
  if (commanded >= kOff_deg || !soft_starting()) return commanded;
  const double part = (static_cast<double>(cycles_fired_) - 0.5) / soft_start_cycles_;
  return std::max(commanded, kOff_deg * (1.0 - part));
}

void PowerStage::tell(plant::Conduction& conduction) const {
  conduction.firing_angle_deg = firing_angle_deg();
  const bool begins = unit::in_bursts(mode()) && cycles_fired_ == 1 && cycle_on_;
  conduction.first_half_deg = begins ? entry_->unit.firing.first_angle_deg : std::nullopt;
  for (std::size_t leg = 0; leg < legs_.size(); ++leg) {
    conduction.legs[leg] = legs_[leg];
    conduction.legs[leg].forward_open = legs_[leg].forward_open || missed_[leg][0];
    conduction.legs[leg].backward_open = legs_[leg].backward_open || missed_[leg][1];
  }
}

bool PowerStage::restless() const {
  const auto by_chance = [](const std::array<double, 2>& ways) {
    return (ways[0] > 0.0 && ways[0] < 1.0) || (ways[1] > 0.0 && ways[1] < 1.0);
  };
  const bool on = drive_.output > 0.0;
  const bool bursting = unit::in_bursts(mode()) && on && drive_.output < 1.0;
  return bursting || soft_starting() || (on && std::any_of(misfiring_.begin(), misfiring_.end(), by_chance));
}

}  // namespace emberline::bench

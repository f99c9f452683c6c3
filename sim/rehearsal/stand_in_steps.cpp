#include "sim/rehearsal/stand_in_steps.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace emberline::rehearsal {

StandInStep::StandInStep(const ProgramStep& spec, const StandInReadings& readings)
    : spec_(&spec), loop_(fresh_loop()), profile_(spec.profile) {
  if (!spec.when.empty()) when_.emplace(spec.when, readings);
  if (spec.kind == ProgramStep::Kind::read) blocks_ = watched_blocks(spec, readings);
  if (spec.measured) measured_in_ = readings.place_of(spec.measured->name);
}

PiLoop StandInStep::fresh_loop() const {
  return PiLoop({spec_->gain, spec_->every.value_or(Duration::zero()), spec_->integral_time, spec_->at_least,
                 spec_->at_most, spec_->winds_up});
}

void StandInStep::begin(SimTime start) {
  start_ = start;
  due_.reset();
  if (spec_->at) {
    due_ = start + spec_->at->time_since_epoch();
  } else if (spec_->every && *spec_->every > Duration::zero()) {
    due_ = start + spec_->phase;
  }
  loop_ = fresh_loop();
  profile_.forget();
  measured_.reset();
  ramp_from_.reset();
  count_ = 0;
}

void StandInStep::reschedule(SimTime now) {
  if (!spec_->every || spec_->at) {
    due_.reset();
    return;
  }
  const Duration period = *spec_->every;
  const SimTime first = start_ + spec_->phase;
  due_ = first + ((now - first) / period + 1) * period;
}

void StandInStep::carry_out(StandInRequests& requests, StandInReadings& readings, MasterLink& link) {
  const SimTime now = link.now();
  reschedule(now);
  if (when_ && !when_->holds(readings, requests, start_)) return;
  switch (spec_->kind) {
    case ProgramStep::Kind::read:
      return read(requests, readings);
    case ProgramStep::Kind::write:
      for (const Write& write : spec_->writes) {
        if (requests.halted()) return;
        requests.write(write.target, write.value, spec_->on_change);
      }
      return;
    case ProgramStep::Kind::control:
      return control(requests, readings, link);
    case ProgramStep::Kind::ramp:
      return ramp(requests, now);
    case ProgramStep::Kind::count: {
      if (!spec_->output) return;
      const auto next = static_cast<std::uint16_t>(count_ % std::numeric_limits<std::uint16_t>::max() + 1);
      if (requests.keeps_back(*spec_->output, next)) return;
      count_ = next;
      requests.write_anyway(*spec_->output, next);
      return;
    }
  }
}

void StandInStep::read(StandInRequests& requests, StandInReadings& readings) const {
  for (const WatchedBlock& watched : blocks_) {
    if (requests.halted()) return;
    const auto* answer = requests.read(spec_->reads[watched.block.lead], watched.block.range);
    if (answer == nullptr) continue;
    for (const auto& part : watched.parts) {
      if (const auto value = value_in(*part.target, watched.block.range, *answer))
        readings.set(part.place, *value);
    }
  }
}

void StandInStep::ramp(StandInRequests& requests, SimTime now) {
  if (!ramp_from_) ramp_from_ = now;
  for (const RampWrite& ramp : spec_->ramps) {
    if (requests.halted()) return;
    const Duration gone = now - *ramp_from_;
    const double share = gone >= ramp.over ? 1.0 : to_seconds(gone) / to_seconds(ramp.over);
    requests.write(ramp.target, ramp.from + share * (ramp.to - ramp.from), spec_->on_change);
  }
}

void StandInStep::control(StandInRequests& requests, StandInReadings& readings, const MasterLink& link) {
  if (!spec_->output || !spec_->measured) return;
  const Target& output = *spec_->output;
  const Target& measured = *spec_->measured;
  const modbus::AddressRange range = range_of(measured);
  const auto* answer = requests.read(measured, range);
  if (requests.halted()) return;
  const auto fresh = answer != nullptr ? value_in(measured, range, *answer) : std::nullopt;
  if (fresh && measured_in_) readings.set(*measured_in_, *fresh);
  if (fresh && std::isfinite(*fresh)) {
    measured_ = fresh;
  } else if (spec_->stale == ProgramStep::Stale::zero) {
    requests.write(output, 0.0, spec_->on_change);
    return;
  } else if (spec_->stale == ProgramStep::Stale::hold || !measured_) {
    return;
  }
  // Nobody hears the output of a lost slave: the integral waits, or it would wind up against a dead cable.
  if (!spec_->integrates_while_lost && requests.keeps_back(output, loop_.last_output())) return;
  double target = spec_->target_value;
  if (!spec_->profile.empty()) {
    if (!profile_.begun()) profile_.begin(link.now(), *measured_);
    target = profile_.setpoint_degC(link.now());
  }
  requests.write(output, loop_.next(target - *measured_), spec_->on_change);
}

}  // namespace emberline::rehearsal

#include <string>
#include <string_view>

#include "sim/base/duration_text.hpp"
#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kFiringExample = "{ mode: phase-angle, ramp: 500 ms }";
constexpr std::string_view kControlExample = "{ variable: power, full_scale: 24 kW }";
constexpr double kHalfWave_deg = 180.0;
/// Of the base: a burst whose start takes longer would deliver much less than its share.
constexpr int kSoftStartsInBase = 4;

void read_held_angle(Fields& fields, unit::FiringSpec& firing, bool mode_known, Problems& problems) {
  if (mode_known && firing.mode != unit::FiringMode::phase_angle)
    return fields.refuse("angle", "only phase-angle firing can hold an angle");
  const auto* node = fields.optional("angle");
  if (!read_quantity(node, Dimension::angle, Bound::not_negative, firing.held_angle_deg, problems)) return;
  if (*firing.held_angle_deg > kHalfWave_deg)
    complain_kind(*node, "an angle from 0 deg to 180 deg", problems);
}

void read_base(Fields& fields, unit::FiringSpec& firing, bool mode_known, BenchDraft& draft) {
  if (mode_known && firing.mode != unit::FiringMode::burst)
    return fields.refuse("base", "only 'mode: burst' keeps a fixed base");
  const auto* node = fields.optional("base");
  if (!read_duration(node, Bound::positive, firing.base, draft.problems) || !draft.supply_known) return;
  if (to_seconds(firing.base) * draft.spec.supply.frequency_Hz < 2.0 - 1e-6)
    complain_kind(*node, "at least two mains cycles, one on and one off", draft.problems);
}

/// `base_known`: read without a complaint, or left out.
void read_soft_start(Fields& fields, unit::FiringSpec& firing, bool mode_known, bool base_known,
                     Problems& problems) {
  if (mode_known && firing.mode == unit::FiringMode::burst_spread)
    return fields.refuse("soft_start",
                         "spread bursts last a cycle or so and would never get past it; use 'first_angle'");
  const auto* node = fields.optional("soft_start");
  if (!read_duration(node, Bound::not_negative, firing.soft_start, problems)) return;
  const bool in_base = mode_known && base_known && firing.mode == unit::FiringMode::burst;
  if (in_base && kSoftStartsInBase * firing.soft_start > firing.base)
    complain_kind(
        *node, "at most a quarter of 'base', " + format_duration(firing.base / kSoftStartsInBase) + " here",
        problems);
}

void read_first_angle(Fields& fields, unit::FiringSpec& firing, bool mode_known, Problems& problems) {
  if (mode_known && !unit::in_bursts(firing.mode))
    return fields.refuse("first_angle", "only bursts have a first half-wave");
  const auto* node = fields.optional("first_angle");
  if (read_quantity(node, Dimension::angle, Bound::not_negative, firing.first_angle_deg, problems) &&
      *firing.first_angle_deg >= kHalfWave_deg)
    complain_kind(*node, "an angle from 0 deg to below 180 deg", problems);
}

Dimension full_scale_dimension(unit::ControlVariable variable) {
  switch (variable) {
    case unit::ControlVariable::current:
      return Dimension::current;
    case unit::ControlVariable::power:
      return Dimension::power;
    case unit::ControlVariable::open_loop:
    case unit::ControlVariable::voltage:
    case unit::ControlVariable::voltage_squared:
      break;
  }
  return Dimension::voltage;
}

/// How the output follows the setpoint.
void read_loop(Fields& fields, unit::ControlSpec& control, bool variable_known, Problems& problems) {
  const bool open_loop = variable_known && control.variable == unit::ControlVariable::open_loop;
  read_duration(fields.optional("response"), Bound::not_negative, control.response, problems);
  if (open_loop) {
    fields.refuse("gain", "open-loop has no loop, and so no gain");
  } else {
    read_within(fields.optional("gain"), Dimension::number, {0.01, 100.0}, "a number from 0.01 to 100",
                control.gain, problems);
  }
  if (variable_known && !open_loop) {
    fields.refuse("supply_compensation",
                  "what is measured makes up for the supply by itself; only open-loop needs it");
  } else {
    read_switch(fields.optional("supply_compensation"), control.supply_compensation, problems);
  }
}

}  // namespace

void read_firing(const Node* node, const Node* load, bench::UnitEntry& entry, BenchDraft& draft) {
  if (node == nullptr) return;
  auto& problems = draft.problems;
  const auto problems_before = problems.size();
  auto& firing = entry.unit.firing;
  Fields fields(*node, kFiringExample, problems);
  static constexpr Choice<unit::FiringMode> kModes[] = {{"phase-angle", unit::FiringMode::phase_angle},
                                                        {"burst-spread", unit::FiringMode::burst_spread},
                                                        {"burst", unit::FiringMode::burst}};
  const auto* mode = fields.required("mode", "expected 'phase-angle', 'burst-spread' or 'burst'");
  const bool mode_known = read_word(mode, kModes, firing.mode, problems);
  if (mode_known && !unit::in_bursts(firing.mode) && entry.load.controlled_legs == 2)
    complain(problems, mode->place,
             "mode: with 'controlled_legs: 2' one line is always connected, which phase-angle firing cannot "
             "work with; expected burst or burst-spread");
  read_duration(fields.optional("ramp"), Bound::not_negative, firing.ramp, problems);
  read_held_angle(fields, firing, mode_known, problems);
  // The drop belongs to the thyristors, so it may stand here as well as under load.
  const auto* drop = fields.optional("thyristor_drop");
  if (drop != nullptr && load != nullptr && load->find("thyristor_drop") != nullptr) {
    complain(problems, drop->header, "thyristor_drop: stands under 'load' already: leave one out");
  } else {
    read_quantity(drop, Dimension::voltage, Bound::not_negative, entry.load.thyristor_drop_V, problems);
  }
  const auto problems_before_base = problems.size();
  read_base(fields, firing, mode_known, draft);
  read_soft_start(fields, firing, mode_known, problems.size() == problems_before_base, problems);
  read_first_angle(fields, firing, mode_known, problems);
  fields.done();
  if (problems.size() == problems_before) draft.firing_known.insert(entry.unit.name);
}

void read_control(const Node* node, unit::ControlSpec& control, Problems& problems) {
  using unit::ControlVariable;
  if (node == nullptr) return;
  Fields fields(*node, kControlExample, problems);
  static constexpr Choice<ControlVariable> kVariables[] = {
      {"open-loop", ControlVariable::open_loop},
      {"voltage", ControlVariable::voltage},
      {"voltage-squared", ControlVariable::voltage_squared},
      {"current", ControlVariable::current},
      {"power", ControlVariable::power}};
  const bool known = read_word(fields.required("variable"), kVariables, control.variable, problems);
  if (known && control.variable == ControlVariable::open_loop) {
    fields.refuse("full_scale", "open-loop sets the output directly and has no full scale: leave it out");
  } else if (known) {
    read_quantity(fields.required("full_scale", "expected what a setpoint of 100 % stands for"),
                  full_scale_dimension(control.variable), Bound::positive, control.full_scale, problems);
  } else {
    fields.optional("full_scale");  // its unit hangs on the variable, which has been complained about
  }
  read_loop(fields, control, known, problems);
  fields.done();
}

void read_limits(const Node* node, unit::LimitsSpec& limits, Problems& problems) {
  if (node == nullptr) return;
  Fields fields(*node, "{ current: 50 A }", problems);
  read_quantity(fields.optional("current"), Dimension::current, Bound::positive, limits.current_A, problems);
  read_quantity(fields.optional("voltage"), Dimension::voltage, Bound::positive, limits.voltage_V, problems);
  read_quantity(fields.optional("power"), Dimension::power, Bound::positive, limits.power_W, problems);
  fields.done();
}

}  // namespace emberline::io

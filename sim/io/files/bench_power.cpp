#include <string>
#include <string_view>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kFiringExample = "{ mode: phase-angle, ramp: 500 ms }";
constexpr std::string_view kControlExample = "{ variable: power, full_scale: 24 kW }";
constexpr double kHalfWave_deg = 180.0;

void read_held_angle(Fields& fields, unit::FiringSpec& firing, bool mode_known, Problems& problems) {
  if (mode_known && firing.mode != unit::FiringMode::phase_angle)
    return fields.refuse("angle", "only phase-angle firing can hold an angle");
  const auto* node = fields.optional("angle");
  if (!read_quantity(node, Dimension::angle, Bound::not_negative, firing.held_angle_deg, problems)) return;
  if (*firing.held_angle_deg > kHalfWave_deg)
    complain_kind(*node, "an angle from 0 deg to 180 deg", problems);
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

}  // namespace

void read_firing(const Node* node, const Node* load, bench::UnitEntry& entry, BenchDraft& draft) {
  if (node == nullptr) return;
  auto& problems = draft.problems;
  auto& firing = entry.unit.firing;
  Fields fields(*node, kFiringExample, problems);
  static constexpr Choice<unit::FiringMode> kModes[] = {{"phase-angle", unit::FiringMode::phase_angle},
                                                        {"burst-spread", unit::FiringMode::burst_spread}};
  const auto* mode = fields.required("mode", "expected 'phase-angle' or 'burst-spread'");
  const bool mode_known = read_word(mode, kModes, firing.mode, problems, {"burst"});
  if (mode_known && firing.mode == unit::FiringMode::phase_angle &&
      entry.load.connection == plant::Connection::delta)
    complain(
        problems, mode->place,
        "mode: phase-angle on a delta load is three-wire, which is not there yet; known now: burst-spread");
  read_duration(fields.optional("ramp"), Bound::not_negative, firing.ramp, problems);
  read_held_angle(fields, firing, mode_known, problems);
  // The drop belongs to the thyristors, so it may stand here as well as under load.
  const auto* drop = fields.optional("thyristor_drop");
  if (drop != nullptr && load != nullptr && load->find("thyristor_drop") != nullptr) {
    complain(problems, drop->header, "thyristor_drop: stands under 'load' already: leave one out");
  } else {
    read_quantity(drop, Dimension::voltage, Bound::not_negative, entry.load.thyristor_drop_V, problems);
  }
  fields.later({"base"});
  fields.done();
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

#include "sim/faults/unit/local.hpp"

#include "sim/base/quantity.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {{.key = "to",
                                .kind = ActionKey::Kind::percentage,
                                .fallback = std::nullopt,
                                .meaning = "the local setpoint from now on",
                                .least = 0.0,
                                .most = 1.0}};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.set_local_setpoint(action.target.index, action.value("to"), at);
}

std::string set_back(const bench::Bench& bench, const Action& action) {
  const auto before = bench.unit(action.target.index).value(registers::Point::setpoint_local, SimTime{});
  return std::string(action.kind->word) + " " + action.target_name + " to " +
         format_quantity(before, Dimension::ratio);
}

std::string refusal(const bench::BenchSpec& spec, const Action& action) {
  const auto& signal = spec.units.at(action.target.index).unit.local_setpoint_signal;
  if (!signal) return {};
  return "the local setpoint of '" + action.target_name + "' follows the signal '" + *signal + "'";
}

}  // namespace

const ActionKind kLocal{"local",    TargetKind::unit, "turns the knob of a unit: its local setpoint",
                        Duration{}, perform,          kKeys,
                        nullptr,    nullptr,          refusal,
                        set_back};

}  // namespace emberline::faults

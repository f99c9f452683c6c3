#include <string_view>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kSupplyExample = "{ system: three-phase, voltage: 400 V, frequency: 50 Hz }";
constexpr double kLowestFrequency_Hz = 10.0;
constexpr double kHighestFrequency_Hz = 1000.0;
constexpr double kLargestPhase = 2.0;

/// A resistance, or a mapping with an inductance beside it.
void read_impedance(const Node* node, plant::SupplyParameters& supply, Problems& problems) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::mapping) {
    read_quantity(node, Dimension::resistance, Bound::not_negative, supply.resistance_ohm, problems);
    return;
  }
  Fields fields(*node, "{ resistance: 8 mohm, inductance: 40 uH }", problems);
  read_quantity(fields.required("resistance"), Dimension::resistance, Bound::not_negative,
                supply.resistance_ohm, problems);
  read_quantity(fields.optional("inductance"), Dimension::inductance, Bound::not_negative,
                supply.inductance_H, problems);
  fields.done();
}

bool read_frequency(const Node* node, double& into, Problems& problems) {
  if (!read_quantity(node, Dimension::frequency, Bound::positive, into, problems)) return false;
  if (into >= kLowestFrequency_Hz && into <= kHighestFrequency_Hz) return true;
  complain_kind(*node, "a frequency from 10 Hz to 1 kHz", problems);
  return false;
}

/// The voltage of each phase.
void read_phase_shares(const Node* node, plant::SupplyParameters& supply, Problems& problems) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::sequence || node->items.size() != supply.phase_share.size())
    return complain_kind(*node, "the voltages of all three phases, such as [100 %, 97 %, 101 %]", problems);
  for (std::size_t phase = 0; phase < supply.phase_share.size(); ++phase)
    read_within(&node->items[phase], Dimension::ratio, {0.0, kLargestPhase},
                "a share of the nominal voltage from 0 % to 200 %", supply.phase_share[phase], problems);
}

/// What only three phases have: each its own voltage, and an order.
void read_phases(Fields& fields, plant::SupplyParameters& supply, Problems& problems) {
  if (supply.system == plant::System::single_phase) {
    fields.refuse("phases", "a single-phase supply has but one");
    fields.refuse("rotation", "a single phase does not rotate");
    return;
  }
  read_phase_shares(fields.optional("phases"), supply, problems);
  static constexpr Choice<bool> kRotations[] = {{"l1-l2-l3", false}, {"l1-l3-l2", true}};
  read_word(fields.optional("rotation"), kRotations, supply.reversed, problems);
}

}  // namespace

void read_supply(const Node* node, BenchDraft& draft) {
  if (node == nullptr) return;
  auto& problems = draft.problems;
  auto& supply = draft.spec.supply;
  const auto problems_before = problems.size();
  Fields fields(*node, kSupplyExample, problems);
  static constexpr Choice<plant::System> kSystems[] = {{"single-phase", plant::System::single_phase},
                                                       {"three-phase", plant::System::three_phase}};
  const bool system_known = read_word(fields.required("system"), kSystems, supply.system, problems);
  read_quantity(fields.required("voltage", "expected one such as '400 V' (line to line, RMS)"),
                Dimension::voltage, Bound::positive, supply.voltage_V, problems);
  const bool frequency_known = read_frequency(fields.required("frequency", "expected '50 Hz' or '60 Hz'"),
                                              supply.frequency_Hz, problems);
  read_impedance(fields.optional("impedance"), supply, problems);
  read_phases(fields, supply, problems);
  read_duration(fields.optional("demand_interval"), Bound::positive, draft.spec.demand_interval, problems);
  fields.done();
  draft.supply_known = system_known && frequency_known;
  if (problems.size() == problems_before) complain_all(*node, plant::Network::problems(supply), problems);
}

}  // namespace emberline::io

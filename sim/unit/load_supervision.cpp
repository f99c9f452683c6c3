#include <algorithm>

#include "sim/unit/supervision.hpp"

namespace emberline::unit {

namespace {

using Sight = Reading::Sight;

bool judgeable(const CycleSeen& cycle, std::size_t leg) {
  return cycle.load_V[leg] > 0.0 && cycle.load_V[leg] >= kJudgeable * cycle.nominal_supply_V;
}

Reading open_reading(const Look& look) {
  const CycleSeen& cycle = look.measured.cycle;
  Reading worst{Sight::idle, 0.0, 0};
  if (look.spec.rated_current_A <= 0.0 || cycle.nominal_supply_V <= 0.0) return worst;
  for (std::size_t leg = 0; leg < legs_of(look.measured); ++leg) {
    if (!judgeable(cycle, leg)) continue;
    const double share_of_voltage = std::min(1.0, cycle.load_V[leg] / cycle.nominal_supply_V);
    const double share = cycle.load_A[leg] / (look.spec.rated_current_A * share_of_voltage);
    if (worst.sight != Sight::seen || share < worst.value) worst = {Sight::seen, share, leg};
  }
  return worst;
}

}  // namespace

PartialLoad::Conductance conductance(const Measured& measured) {
  PartialLoad::Conductance seen;
  const CycleSeen& cycle = measured.cycle;
  for (std::size_t leg = 0; leg < legs_of(measured); ++leg)
    if (judgeable(cycle, leg)) seen[leg] = cycle.load_A[leg] / cycle.load_V[leg];
  return seen;
}

void read_load(const Look& look, const PartialLoad& partial_load, Readings& readings) {
  Reading& open = of(readings, Protection::load_open);
  Reading& partial = of(readings, Protection::partial_load_failure);
  if (!look.measured.supply_present) return;
  if (!look.measured.cycle.fired) {
    const bool in_pause = look.on && in_bursts(look.spec.firing.mode);
    open.sight = in_pause ? Sight::between : Sight::idle;
    partial.sight = partial_load.has_reference() ? open.sight : Sight::silent;
    return;
  }
  open = open_reading(look);
  if (!partial_load.has_reference()) return;
  const auto seen = conductance(look.measured);
  const bool any = std::any_of(seen.begin(), seen.end(), [](const auto& leg) { return leg.has_value(); });
  partial = {any ? Sight::seen : Sight::idle, partial_load.intact(), partial_load.worst_leg()};
}

}  // namespace emberline::unit

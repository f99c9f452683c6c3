#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/unit/supervision.hpp"

namespace emberline::unit {

namespace {

using Sight = Reading::Sight;

/// The lowest and the highest of the lines a unit has, as shares of the nominal voltage.
struct Extremes {
  Reading lowest, highest;
  int lines = 0;
};

Extremes extremes(const CycleSeen& cycle) {
  Extremes found;
  for (std::size_t line = 0; line < cycle.used.size(); ++line) {
    if (!cycle.used[line]) continue;
    const double share = cycle.supply_V[line] / cycle.nominal_supply_V;
    if (found.lines == 0 || share < found.lowest.value) found.lowest = {Sight::seen, share, line};
    if (found.lines == 0 || share > found.highest.value) found.highest = {Sight::seen, share, line};
    ++found.lines;
  }
  return found;
}

}  // namespace

void read_supply(const Look& look, Readings& readings) {
  const CycleSeen& cycle = look.measured.cycle;
  if (!look.measured.supply_present) return;
  if (cycle.nominal_supply_V > 0.0) {
    const Extremes found = extremes(cycle);
    of(readings, Protection::supply_low) = found.lowest;
    of(readings, Protection::supply_high) = found.highest;
    const double lost_below = look.settings.threshold[static_cast<std::size_t>(Protection::phase_lost)];
    if (found.lines > 1 && found.highest.value >= lost_below)
      of(readings, Protection::phase_lost) = found.lowest;
  }
  if (cycle.nominal_frequency_Hz > 0.0 && cycle.frequency_Hz > 0.0) {
    of(readings, Protection::supply_frequency) = {
        Sight::seen, std::abs(cycle.frequency_Hz - cycle.nominal_frequency_Hz), 0};
  }
}

}  // namespace emberline::unit

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

/// The two lines of a voltage are `index` and the next; this is the third.
constexpr std::size_t opposite(std::size_t index) { return (index + 2) % 3; }

/// The lowest voltage between lines, in the line that takes part in both of the lower ones. Silent
/// where no line stands out: all are low.
Reading lost_reading(const Look& look) {
  const auto& between_V = look.measured.cycle.between_V;
  const auto lowest = std::min_element(between_V.begin(), between_V.end());
  // The last one of equals, so that it is not the lowest as well.
  const auto highest = std::max_element(between_V.rbegin(), between_V.rend());
  const double nominal_V = look.measured.cycle.nominal_between_V;
  const double threshold = look.settings.threshold[static_cast<std::size_t>(Protection::phase_lost)];
  if (*highest / nominal_V < threshold) return {Sight::silent, 0.0, 0};
  const auto from_l1 = static_cast<std::size_t>(between_V.rend() - highest) - 1;
  return {Sight::seen, *lowest / nominal_V, opposite(from_l1)};
}

/// True if a line is lost and somebody says so.
bool is_lost(const Look& look, const Reading& lost) {
  const auto index = static_cast<std::size_t>(Protection::phase_lost);
  return look.spec.protections[index].on && lost.sight == Sight::seen &&
         lost.value < look.settings.threshold[index];
}

}  // namespace

void read_supply(const Look& look, Readings& readings) {
  const CycleSeen& cycle = look.measured.cycle;
  if (!look.measured.supply_present) return;
  Reading& lost = of(readings, Protection::phase_lost);
  if (cycle.nominal_between_V > 0.0) lost = lost_reading(look);
  if (is_lost(look, lost)) {
    of(readings, Protection::supply_low).sight = Sight::idle;
    of(readings, Protection::supply_high).sight = Sight::idle;
  } else if (cycle.nominal_supply_V > 0.0) {
    const Extremes found = extremes(cycle);
    of(readings, Protection::supply_low) = found.lowest;
    of(readings, Protection::supply_high) = found.highest;
  }
  if (cycle.nominal_frequency_Hz > 0.0 && cycle.frequency_Hz > 0.0) {
    of(readings, Protection::supply_frequency) = {
        Sight::seen, std::abs(cycle.frequency_Hz - cycle.nominal_frequency_Hz), 0};
  }
}

}  // namespace emberline::unit

#include <cmath>

#include "sim/unit/supervision.hpp"

namespace emberline::unit {

namespace {

using Sight = Reading::Sight;

/// Current while the gates are off.
Reading shorted_reading(const Look& look, const LineCurrent& largest) {
  if (look.measured.cycle.fired)
    return {in_bursts(look.spec.firing.mode) ? Sight::between : Sight::idle, 0.0, 0};
  if (look.after_fired) return {Sight::between, 0.0, 0};
  return {Sight::seen, largest.current_A / look.spec.rated_current_A, largest.line};
}

}  // namespace

LineCurrent largest_line_current(const CycleSeen& cycle) {
  LineCurrent largest;
  for (std::size_t line = 0; line < cycle.used.size(); ++line)
    if (cycle.used[line] && cycle.line_A[line] > largest.current_A) largest = {cycle.line_A[line], line};
  return largest;
}

void read_power_stage(const Look& look, Readings& readings) {
  const CycleSeen& cycle = look.measured.cycle;
  const double heatsink_degC = look.measured.heatsink_degC;
  const Reading heat_sink =
      std::isnan(heatsink_degC) ? Reading{Sight::idle, 0.0, 0} : Reading{Sight::seen, heatsink_degC, 0};
  of(readings, Protection::heatsink_warm) = heat_sink;
  of(readings, Protection::heatsink_over_temperature) = heat_sink;
  Reading& open = of(readings, Protection::fuse_open);
  Reading& overload = of(readings, Protection::overload);
  open = overload = {Sight::seen, 0.0, 0};
  for (std::size_t line = 0; line < cycle.used.size(); ++line) {
    if (!cycle.used[line]) continue;
    if (cycle.fuse_open[line] && open.value == 0.0) open = {Sight::seen, 1.0, line};
    if (cycle.fuse_heat[line] > overload.value) overload = {Sight::seen, cycle.fuse_heat[line], line};
  }
  if (look.spec.rated_current_A <= 0.0) return;
  const LineCurrent largest = largest_line_current(cycle);
  of(readings, Protection::over_current) = {Sight::seen, largest.current_A / look.spec.rated_current_A,
                                            largest.line};
  of(readings, Protection::thyristor_shorted) = shorted_reading(look, largest);
}

}  // namespace emberline::unit

#include "sim/io/panel/snapshot.hpp"

namespace emberline::io {

void take_snapshot(const bench::Bench& bench, const BenchFacts& facts, SimTime at, Snapshot& into) {
  into.at = at;
  into.plant_speed = bench.plant_speed();
  into.values.resize(facts.signals.size());
  for (std::size_t i = 0; i < facts.signals.size(); ++i)
    into.values[i] = bench.value(facts.signals[i].id, at);
  into.units.resize(facts.spec.units.size());
  for (std::size_t u = 0; u < into.units.size(); ++u) {
    const unit::VirtualUnit& unit = bench.unit(u);
    const unit::Watchdog& watchdog = unit.watchdog();
    Snapshot::Unit& seen = into.units[u];
    seen.watchdog = watchdog.settings();
    seen.armed = watchdog.armed();
    seen.lost = watchdog.lost();
    seen.latched = watchdog.latched();
    seen.age = watchdog.age(at);
    seen.longest_gap = watchdog.longest_gap(at);
    seen.due = watchdog.due();
    seen.steps = unit.next_steps(at);
  }
}

}  // namespace emberline::io

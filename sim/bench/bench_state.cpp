#include "sim/bench/bench_state.hpp"

#include <algorithm>
#include <numeric>

#include "sim/base/duration_text.hpp"
#include "sim/base/listed.hpp"

namespace emberline::bench {
namespace {

using Found = std::vector<std::string>;

/// Complains of names that only one side has; true if there are none.
bool same_names(const std::string& kind, const Found& of_bench, const Found& of_state, Found& found) {
  const auto lacks = [](const Found& names, const std::string& name) {
    return std::find(names.begin(), names.end(), name) == names.end();
  };
  const auto all_of = [&](const Found& names) {
    return names.empty() ? "has no " + kind + "s" : "has " + listed(names);
  };
  const auto before = found.size();
  for (const auto& name : of_bench)
    if (lacks(of_state, name))
      found.push_back(kind + " '" + name + "' of the bench is not in the state, which " + all_of(of_state));
  for (const auto& name : of_state)
    if (lacks(of_bench, name))
      found.push_back(kind + " '" + name + "' of the state is not on the bench, which " + all_of(of_bench));
  return found.size() == before;
}

template <class List, class Name>
Found names_of(const List& list, Name name) {
  Found names;
  for (const auto& entry : list) names.push_back(name(entry));
  return names;
}

std::string cells(std::size_t count) {
  if (count == 0) return "no wall";
  return "a wall of " + std::to_string(count) + (count == 1 ? " cell" : " cells");
}

void compare(const BenchState::Zone& saved, const plant::ZoneParameters& zone, Found& found) {
  const std::string who = "zone '" + saved.name + "'";
  const std::size_t count = zone.wall ? plant::Wall(*zone.wall).cells() : 0;
  if (saved.heat.wall_degC.size() != count)
    found.push_back(who + " has " + cells(count) + " on the bench, and " +
                    cells(saved.heat.wall_degC.size()) + " in the state");
  const auto& on_its_way = saved.heat.sensor.on_its_way;
  const auto length = std::accumulate(on_its_way.begin(), on_its_way.end(), Duration{},
                                      [](Duration sum, const auto& part) { return sum + part.length; });
  if (length != zone.sensor_dead_time)
    found.push_back(who + " has a sensor with a dead time of " + format_duration(zone.sensor_dead_time) +
                    " on the bench, and of " + format_duration(length) + " in the state");
}

void compare(const BenchState::Unit& saved, const UnitEntry& unit, Found& found) {
  const auto differ = [&](bool bench_has, bool state_has, const std::string& what) {
    if (bench_has == state_has) return;
    found.push_back("unit '" + saved.name + "' has " +
                    (bench_has ? what : "no " + what.substr(what.find(' ') + 1)) + " on the bench, and " +
                    (bench_has ? "no temperature of it" : "the temperature of one") + " in the state");
  };
  differ(has_warm_element(unit), saved.element_degC.has_value(), "an element with a heat capacity");
  differ(unit.heat_sink.has_value(), saved.heat_sink_degC.has_value(), "a heat sink");
}

}  // namespace

bool has_warm_element(const UnitEntry& unit) {
  return unit.heats && unit.element.heat_capacity_J_per_K > 0.0;
}

std::vector<std::string> problems(const BenchState& state, const BenchSpec& spec) {
  const auto own_name = [](const auto& entry) { return entry.name; };
  Found found;
  const bool zones_fit =
      same_names("zone", names_of(spec.zones, own_name), names_of(state.zones, own_name), found);
  const bool units_fit =
      same_names("unit", names_of(spec.units, [](const UnitEntry& entry) { return entry.unit.name; }),
                 names_of(state.units, own_name), found);
  if (zones_fit)
    for (const auto& zone : state.zones)
      compare(zone, spec.zones[*spec.find_zone(zone.name)].parameters, found);
  if (units_fit)
    for (const auto& unit : state.units) compare(unit, spec.units[*spec.find_unit(unit.name)], found);
  return found;
}

}  // namespace emberline::bench

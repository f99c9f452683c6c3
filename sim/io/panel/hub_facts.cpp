#include "sim/io/panel/hub_facts.hpp"

#include <utility>

namespace emberline::io {
namespace {

using Kind = bench::SignalId::Kind;

/// LINE.state says what was done to a line, and ZONE.temperature what a sensor hides; so does the temperature
/// of a heating element, which follows its zone's.
bool tells_of_fault(bench::SignalId id) {
  if (id.kind == Kind::unit_point)
    return id.sub == static_cast<std::uint16_t>(registers::Point::element_temperature);
  return id.kind == Kind::line_state || id.kind == Kind::zone_temperature;
}

/// An input of an io-block tells what the signal tells that it carries.
bool tells_of_fault(const bench::BenchSpec& spec, bench::SignalId id) {
  if (tells_of_fault(id)) return true;
  const std::string* wired = nullptr;
  if (id.kind == Kind::io_input) wired = &spec.io_blocks[id.index].input.at(id.sub).signal;
  if (id.kind == Kind::io_discrete) wired = &spec.io_blocks[id.index].discrete.at(id.sub);
  if (wired == nullptr) return false;
  const auto behind = bench::find_signal(spec, *wired);
  return behind && tells_of_fault(*behind);
}

std::vector<std::string> phases_of(const plant::LoadParameters& load) {
  if (load.legs() == 1) return {"L1"};
  if (load.connection == plant::Connection::delta || load.connection == plant::Connection::open_delta)
    return {"L12", "L23", "L31"};
  return {"L1", "L2", "L3"};
}

}  // namespace

BenchFacts::BenchFacts(const bench::BenchSpec& the_spec, std::vector<OpenLine> places)
    : spec(the_spec), lines(std::move(places)) {
  for (const auto& name : bench::all_signal_names(spec)) {
    const auto id = *bench::find_signal(spec, name);
    by_name_.emplace(name, signals.size());
    signals.push_back({id, name, bench::signal_info(spec, id), tells_of_fault(spec, id)});
  }
  find_places();
}

void BenchFacts::find_places() {
  const auto at = [this](const std::string& name) { return by_name_.at(name); };
  for (const auto& entry : spec.units) {
    const std::string& name = entry.unit.name;
    UnitPlaces places;
    places.points = at(name + "." + std::string(registers::all_points().front().name));
    places.terminals = {at(name + ".terminal.enable"), at(name + ".terminal.reset")};
    for (const auto& relay : entry.unit.relays) places.relays.push_back(at(name + ".relay." + relay.name));
    places.phases = phases_of(entry.load);
    units.push_back(std::move(places));
  }
  for (const auto& zone : spec.zones) {
    ZonePlaces places{at(zone.name + ".temperature"), at(zone.name + ".measured"), {}};
    if (zone.cut_out) places.cut_out = at(zone.name + ".cut_out");
    zones.push_back(places);
  }
  for (const auto& contactor : spec.contactors) contactors.push_back(at(contactor.name + ".closed"));
  for (const auto& line : spec.lines) line_states.push_back(at(line.name + ".state"));
  for (const char* phase : {"l1", "l2", "l3"}) {
    if (const auto voltage = find(std::string("supply.voltage_") + phase))
      supply_voltages.push_back(*voltage);
    if (const auto current = find(std::string("supply.current_") + phase))
      supply_currents.push_back(*current);
  }
  supply_power = at("supply.power");
  supply_neutral = at("supply.neutral_current");
  supply_frequency = at("supply.frequency");
}

std::optional<std::size_t> BenchFacts::find(std::string_view name) const {
  const auto found = by_name_.find(name);
  return found == by_name_.end() ? std::nullopt : std::optional(found->second);
}

std::optional<std::string> BenchFacts::place_of(std::size_t line) const {
  for (const auto& open : lines)
    if (open.name == spec.lines[line].name)
      return bench::over_tcp(open.kind) ? open.host + ":" + std::to_string(open.port) : open.path;
  return std::nullopt;
}

}  // namespace emberline::io

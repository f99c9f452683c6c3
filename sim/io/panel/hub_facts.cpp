#include "sim/io/panel/hub_facts.hpp"

#include <algorithm>
#include <numeric>
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

/// What signals are sorted by, to be found again.
std::uint64_t key_of(bench::SignalId id) {
  return std::uint64_t{static_cast<std::uint8_t>(id.kind)} << 32u | std::uint64_t{id.index} << 16u | id.sub;
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
  const auto ids = bench::all_signals(spec);
  signals.reserve(ids.size());
  for (const auto id : ids) signals.push_back({id, tells_of_fault(spec, id)});
  by_id_.resize(ids.size());
  std::iota(by_id_.begin(), by_id_.end(), 0u);
  std::sort(by_id_.begin(), by_id_.end(),
            [&ids](auto one, auto other) { return key_of(ids[one]) < key_of(ids[other]); });
  find_places();
}

void BenchFacts::find_places() {
  const auto at = [this](Kind kind, std::size_t index, std::size_t sub = 0) {
    return find(bench::SignalId{kind, static_cast<std::uint16_t>(index), static_cast<std::uint16_t>(sub)})
        .value();
  };
  for (std::size_t u = 0; u < spec.units.size(); ++u) {
    UnitPlaces places;
    places.points = at(Kind::unit_point, u);
    for (std::size_t t = 0; t < places.terminals.size(); ++t) places.terminals[t] = at(Kind::terminal, u, t);
    for (std::size_t r = 0; r < spec.units[u].unit.relays.size(); ++r)
      places.relays.push_back(at(Kind::relay, u, r));
    places.phases = phases_of(spec.units[u].load);
    units.push_back(std::move(places));
  }
  for (std::size_t z = 0; z < spec.zones.size(); ++z) {
    ZonePlaces places{at(Kind::zone_temperature, z), at(Kind::zone_measured, z), {}};
    if (spec.zones[z].cut_out) places.cut_out = at(Kind::zone_cut_out, z);
    zones.push_back(places);
  }
  for (std::size_t c = 0; c < spec.contactors.size(); ++c) contactors.push_back(at(Kind::contactor, c));
  for (std::size_t l = 0; l < spec.lines.size(); ++l) line_states.push_back(at(Kind::line_state, l));
  for (std::uint16_t phase = 0; phase < 3; ++phase) {
    if (const auto voltage = find({Kind::supply_voltage, phase})) supply_voltages.push_back(*voltage);
    if (const auto current = find({Kind::supply_current, phase})) supply_currents.push_back(*current);
  }
  using Total = bench::SupplyTotal;
  supply_power = at(Kind::supply_total, 0, static_cast<std::size_t>(Total::power));
  supply_neutral = at(Kind::supply_total, 0, static_cast<std::size_t>(Total::neutral_current));
  supply_frequency = at(Kind::supply_frequency, 0);
}

std::optional<std::size_t> BenchFacts::find(std::string_view name) const {
  const auto id = bench::find_signal(spec, name);
  const auto place = id ? find(*id) : std::nullopt;
  // "block.coil.007" is found too, but whoever asks for it would look for that name in what comes.
  return place && this->name(*place) == name ? place : std::nullopt;
}

std::optional<std::size_t> BenchFacts::find(bench::SignalId id) const {
  const auto found = std::lower_bound(
      by_id_.begin(), by_id_.end(), id,
      [this](auto place, bench::SignalId wanted) { return key_of(signals[place].id) < key_of(wanted); });
  if (found == by_id_.end() || signals[*found].id != id) return std::nullopt;
  return *found;
}

std::optional<std::string> BenchFacts::place_of(std::size_t line) const {
  for (const auto& open : lines)
    if (open.name == spec.lines[line].name)
      return bench::over_tcp(open.kind) ? open.host + ":" + std::to_string(open.port) : open.path;
  return std::nullopt;
}

}  // namespace emberline::io

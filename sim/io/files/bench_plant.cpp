#include <algorithm>
#include <string>
#include <string_view>

#include "plant-models/materials/material.hpp"
#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kSupplyExample = "{ system: three-phase, voltage: 400 V, frequency: 50 Hz }";
constexpr std::string_view kZoneExample = "{ mass: 180 kg, specific_heat: 900 J/kgK, loss: 38 W/K }";
constexpr std::string_view kLoadExample = "{ connection: star-4-wire, cold_resistance: 22 ohm }";
constexpr std::string_view kElementExample = "{ heat_capacity: 900 J/K, coupling: 40 W/K }";
constexpr double kLowestFrequency_Hz = 10.0;
constexpr double kHighestFrequency_Hz = 1000.0;
constexpr int kMostElements = 10'000;

/// A resistance, or a mapping whose inductance comes with the plant that can use it.
void read_impedance(const Node* node, double& resistance_ohm, Problems& problems) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::mapping) {
    read_quantity(node, Dimension::resistance, Bound::not_negative, resistance_ohm, problems);
    return;
  }
  Fields fields(*node, "{ resistance: 8 mohm }", problems);
  read_quantity(fields.required("resistance"), Dimension::resistance, Bound::not_negative, resistance_ohm,
                problems);
  fields.later({"inductance"});
  fields.done();
}

bool read_frequency(const Node* node, double& into, Problems& problems) {
  if (!read_quantity(node, Dimension::frequency, Bound::positive, into, problems)) return false;
  if (into >= kLowestFrequency_Hz && into <= kHighestFrequency_Hz) return true;
  complain_kind(*node, "a frequency from 10 Hz to 1 kHz", problems);
  return false;
}

void read_sensor(const Node* node, plant::ZoneParameters& zone, Problems& problems) {
  if (node == nullptr) return;
  Fields fields(*node, "{ lag: 12 s, dead_time: 3 s }", problems);
  read_duration(fields.optional("lag"), Bound::not_negative, zone.sensor_lag, problems);
  read_duration(fields.optional("dead_time"), Bound::not_negative, zone.sensor_dead_time, problems);
  fields.done();
}

/// "4 in parallel", "3 in series" or "1".
void read_elements(const Node* node, plant::LoadParameters& load, Problems& problems) {
  std::string text;
  if (!read_text(node, text, problems)) return;
  Node count = *node;
  const auto blank = text.find(' ');
  const auto grouping = blank == std::string::npos ? std::string() : text.substr(blank + 1);
  count.text = text.substr(0, blank);
  const bool in_series = grouping == "in series";
  if (!in_series && grouping != "in parallel" && (!grouping.empty() || count.text != "1"))
    return complain_kind(*node, "a number of elements such as '4 in parallel', '3 in series' or '1'",
                         problems);
  read_whole(&count, {1, kMostElements}, load.elements, problems);
  load.grouping = in_series ? plant::Grouping::series : plant::Grouping::parallel;
}

void read_material(const Node* node, plant::LoadParameters& load, Problems& problems) {
  load.material = plant::find_material("constant");
  std::string name;
  if (!read_text(node, name, problems)) return;
  if (const auto* material = plant::find_material(name)) {
    load.material = material;
    return;
  }
  std::vector<std::string> known;
  for (const auto& material : plant::all_materials()) known.emplace_back(material.name);
  complain(problems, node->place, "material: " + unknown("material", name, known));
}

void read_cold_resistance(const Node* node, plant::LoadParameters& load, Problems& problems) {
  if (node != nullptr && node->kind == Node::Kind::sequence) {
    complain(problems, node->place,
             "cold_resistance: a value for each leg is not there yet; known now: one for all legs, such as "
             "'22 ohm'");
    return;
  }
  read_quantity(node, Dimension::resistance, Bound::positive, load.cold_resistance_ohm[0], problems);
  load.cold_resistance_ohm.fill(load.cold_resistance_ohm[0]);
}

/// `connection` is for three-phase supplies; with a single phase there is nothing to choose.
void read_connection(Fields& fields, plant::LoadParameters& load, BenchDraft& draft) {
  using plant::Connection;
  if (draft.supply_known && draft.spec.supply.system == plant::System::single_phase) {
    load.connection = Connection::single_phase;
    return fields.refuse("connection", "a single-phase supply leaves no choice: leave it out");
  }
  static constexpr Choice<Connection> kConnections[] = {{"star-4-wire", Connection::star_4_wire},
                                                        {"delta", Connection::delta}};
  load.connection = Connection::star_4_wire;
  // With the supply unreadable its complaint is enough.
  const auto* node = draft.supply_known ? fields.required("connection", "expected 'star-4-wire' or 'delta'")
                                        : fields.optional("connection");
  read_word(node, kConnections, load.connection, draft.problems, {"star-3-wire", "open-delta"});
}

void read_element(const Node* node, bench::UnitEntry& entry, Problems& problems) {
  if (node == nullptr) return;
  Fields fields(*node, kElementExample, problems);
  read_quantity(fields.required("heat_capacity"), Dimension::heat_capacity, Bound::positive,
                entry.element_heat_capacity_J_per_K, problems);
  read_quantity(fields.required("coupling"), Dimension::thermal_conductance, Bound::positive,
                entry.element_coupling_W_per_K, problems);
  fields.later({"mass", "specific_heat", "radiating_area", "emissivity", "conductance"});
  fields.done();
}

}  // namespace

void read_supply(const Node* node, BenchDraft& draft) {
  if (node == nullptr) return;
  auto& problems = draft.problems;
  auto& supply = draft.spec.supply;
  Fields fields(*node, kSupplyExample, problems);
  static constexpr Choice<plant::System> kSystems[] = {{"single-phase", plant::System::single_phase},
                                                       {"three-phase", plant::System::three_phase}};
  const bool system_known = read_word(fields.required("system"), kSystems, supply.system, problems);
  read_quantity(fields.required("voltage", "expected one such as '400 V' (line to line, RMS)"),
                Dimension::voltage, Bound::positive, supply.voltage_V, problems);
  const bool frequency_known = read_frequency(fields.required("frequency", "expected '50 Hz' or '60 Hz'"),
                                              supply.frequency_Hz, problems);
  read_impedance(fields.optional("impedance"), supply.resistance_ohm, problems);
  fields.done();
  draft.supply_known = system_known && frequency_known;
}

void read_zone(const Node& node, BenchDraft& draft) {
  auto& problems = draft.problems;
  bench::ZoneSpec zone;
  zone.name = node.label;
  auto& parameters = zone.parameters;
  Fields fields(node, kZoneExample, problems);
  read_quantity(fields.required("mass"), Dimension::mass, Bound::positive, parameters.mass_kg, problems);
  read_quantity(fields.required("specific_heat"), Dimension::specific_heat, Bound::positive,
                parameters.specific_heat_J_per_kgK, problems);
  read_quantity(fields.required("loss", "expected one such as '38 W/K'"), Dimension::thermal_conductance,
                Bound::not_negative, parameters.loss_W_per_K, problems);
  read_quantity(fields.optional("ambient"), Dimension::temperature, Bound::any, parameters.ambient_degC,
                problems);
  parameters.start_degC = parameters.ambient_degC;
  read_quantity(fields.optional("start"), Dimension::temperature, Bound::any, parameters.start_degC,
                problems);
  read_sensor(fields.optional("sensor"), parameters, problems);
  fields.later({"element", "wall"});
  fields.done();
  draft.spec.zones.push_back(std::move(zone));
}

void read_load(const Node* node, bench::UnitEntry& entry, BenchDraft& draft) {
  entry.load.material = plant::find_material("constant");
  if (node == nullptr) return;
  auto& problems = draft.problems;
  Fields fields(*node, kLoadExample, problems);
  read_connection(fields, entry.load, draft);
  read_elements(fields.optional("elements"), entry.load, problems);
  read_material(fields.optional("material"), entry.load, problems);
  read_cold_resistance(
      fields.required("cold_resistance", "expected that of one element at 20 degC, such as '22 ohm'"),
      entry.load, problems);
  read_quantity(fields.optional("thyristor_drop"), Dimension::voltage, Bound::not_negative,
                entry.load.thyristor_drop_V, problems);
  const auto* heats = fields.optional("heats");
  std::string zone;
  if (read_text(heats, zone, problems) && draft.names.check(*heats, "zones", problems)) entry.heats = zone;
  const auto* element = fields.optional("element");
  read_element(element, entry, problems);
  if (element != nullptr && heats == nullptr)
    complain(problems, element->header,
             "element: without 'heats: ZONE' an element stays at 20 degC, so it needs no heat capacity");
  fields.later({"inductance", "transformer", "ageing"});
  fields.done();
}

}  // namespace emberline::io

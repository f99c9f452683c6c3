#include <algorithm>
#include <string>
#include <string_view>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kZoneExample = "{ mass: 180 kg, specific_heat: 900 J/kgK, loss: 38 W/K }";
constexpr std::string_view kWallExample =
    "{ area: 4 m2, layers: [{ thickness: 115 mm, conductivity: 0.3 W/mK, density: 780 kg/m3, specific_heat: "
    "1.05 kJ/kgK }] }";
constexpr std::string_view kLayerExample =
    "{ thickness: 115 mm, conductivity: 0.3 W/mK, density: 780 kg/m3, specific_heat: 1.05 kJ/kgK }";

void read_sensor(const Node* node, plant::ZoneParameters& zone, Problems& problems) {
  if (node == nullptr) return;
  Fields fields(*node, "{ lag: 12 s, dead_time: 3 s }", problems);
  read_duration(fields.optional("lag"), Bound::not_negative, zone.sensor_lag, problems);
  read_duration(fields.optional("dead_time"), Bound::not_negative, zone.sensor_dead_time, problems);
  fields.done();
}

plant::WallLayer read_layer(const Node& node, Problems& problems) {
  plant::WallLayer layer;
  Fields fields(node, kLayerExample, problems);
  read_quantity(fields.required("thickness"), Dimension::length, Bound::positive, layer.thickness_m,
                problems);
  read_quantity(fields.required("conductivity"), Dimension::thermal_conductivity, Bound::positive,
                layer.conductivity_W_per_mK, problems);
  read_quantity(fields.required("density"), Dimension::density, Bound::positive, layer.density_kg_per_m3,
                problems);
  read_quantity(fields.required("specific_heat"), Dimension::specific_heat, Bound::positive,
                layer.specific_heat_J_per_kgK, problems);
  fields.done();
  return layer;
}

void read_wall(const Node* node, std::optional<plant::WallParameters>& into, Problems& problems) {
  if (node == nullptr) return;
  auto& wall = into.emplace();
  Fields fields(*node, kWallExample, problems);
  read_quantity(fields.required("area"), Dimension::area, Bound::positive, wall.area_m2, problems);
  read_quantity(fields.optional("inside_film"), Dimension::film, Bound::positive, wall.inside_film_W_per_m2K,
                problems);
  read_quantity(fields.optional("outside_film"), Dimension::film, Bound::positive,
                wall.outside_film_W_per_m2K, problems);
  const auto* layers = fields.required("layers", "expected what the wall is made of, from the inside out");
  if (layers != nullptr && (layers->kind != Node::Kind::sequence || layers->items.empty())) {
    complain_kind(*layers,
                  "a list of layers from the inside out, such as [" + std::string(kLayerExample) + "]",
                  problems);
  } else if (layers != nullptr) {
    for (const auto& layer : layers->items) wall.layers.push_back(read_layer(layer, problems));
  }
  fields.done();
}

void read_cut_out(const Node* node, bench::ZoneSpec& zone, BenchDraft& draft) {
  if (node == nullptr) return;
  auto& problems = draft.problems;
  auto& cut_out = zone.cut_out.emplace();
  Fields fields(*node, "{ above: 1200 degC, opens: main }", problems);
  read_quantity(fields.required("above", "expected the temperature at which it opens"),
                Dimension::temperature, Bound::any, cut_out.above_degC, problems);
  const auto* opens = fields.required("opens", "expected the contactor that it opens");
  if (read_text(opens, cut_out.opens, problems)) draft.names.check(*opens, "contactors", problems);
  fields.done();
}

/// The zones `between` which heat goes; false after a complaint.
bool read_between(const Node* node, plant::NeighbourParameters& neighbour, BenchDraft& draft) {
  if (node == nullptr) return false;
  auto& problems = draft.problems;
  const auto list = read_list(node, problems);
  bool known = true;
  for (const auto* zone : list) known = draft.names.check(*zone, "zones", problems) && known;
  if (!known || list.empty()) return false;
  if (list.size() != 2) {
    const bool told = node->kind == Node::Kind::sequence && node->items.size() != list.size();  // one twice
    if (!told)
      complain(problems, node->place, "between: expected two different zones such as [soak, cooling]");
    return false;
  }
  const auto place_of = [&](const Node* zone) { return *draft.spec.find_zone(zone->text); };
  neighbour.a = place_of(list[0]);
  neighbour.b = place_of(list[1]);
  const auto same = [&](const plant::NeighbourParameters& other) {
    return std::minmax(other.a, other.b) == std::minmax(neighbour.a, neighbour.b);
  };
  if (std::none_of(draft.spec.neighbours.begin(), draft.spec.neighbours.end(), same)) return true;
  complain(
      problems, node->place,
      "between: " + list[0]->text + " and " + list[1]->text + " stand here already: say it in one entry");
  return false;
}

}  // namespace

void read_zone(const Node& node, BenchDraft& draft) {
  auto& problems = draft.problems;
  const auto problems_before = problems.size();
  bench::ZoneSpec zone;
  zone.name = node.label;
  auto& parameters = zone.parameters;
  Fields fields(node, kZoneExample, problems);
  read_quantity(fields.required("mass"), Dimension::mass, Bound::positive, parameters.mass_kg, problems);
  read_quantity(fields.required("specific_heat"), Dimension::specific_heat, Bound::positive,
                parameters.specific_heat_J_per_kgK, problems);
  const auto* wall = fields.optional("wall");
  const auto* loss = wall != nullptr ? fields.optional("loss")
                                     : fields.required("loss", "expected one such as '38 W/K', or a 'wall'");
  read_quantity(loss, Dimension::thermal_conductance, Bound::not_negative, parameters.loss_W_per_K, problems);
  read_wall(wall, parameters.wall, problems);
  read_quantity(fields.optional("ambient"), Dimension::temperature, Bound::any, parameters.ambient_degC,
                problems);
  parameters.start_degC = parameters.ambient_degC;
  read_quantity(fields.optional("start"), Dimension::temperature, Bound::any, parameters.start_degC,
                problems);
  read_sensor(fields.optional("sensor"), parameters, problems);
  if (const auto element = read_element(fields.optional("element"), problems))
    draft.zone_elements[zone.name] = *element;
  read_cut_out(fields.optional("cut_out"), zone, draft);
  const auto copies = read_copies(fields.optional("copies"), problems);
  fields.done();
  if (problems.size() == problems_before)
    complain_all(node, plant::ThermalPlant::problems(parameters), problems);
  if (copies) return add_copies(zone, *copies, draft);
  draft.spec.zones.push_back(std::move(zone));
}

void read_neighbours(const Node* node, BenchDraft& draft) {
  if (node == nullptr) return;
  auto& problems = draft.problems;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(*node, "a list of entries such as { between: [soak, cooling], conductance: 12 W/K }",
                         problems);
  for (const auto& item : node->items) {
    const auto problems_before = problems.size();
    plant::NeighbourParameters neighbour;
    Fields fields(item, "{ between: [soak, cooling], conductance: 12 W/K }", problems);
    const bool zones_known = read_between(
        fields.required("between", "expected two zones such as [soak, cooling]"), neighbour, draft);
    const auto* opening = fields.optional("opening");
    const auto* conductance =
        opening != nullptr
            ? fields.optional("conductance")
            : fields.required("conductance",
                              "expected one such as '12 W/K', or an 'opening' such as '0.2 m2'");
    read_quantity(conductance, Dimension::thermal_conductance, Bound::not_negative,
                  neighbour.conductance_W_per_K, problems);
    read_quantity(opening, Dimension::area, Bound::positive, neighbour.opening_m2, problems);
    if (opening == nullptr) {
      fields.refuse("emissivity", "only through an 'opening' something radiates");
    } else {
      read_emissivity(fields.optional("emissivity"), neighbour.emissivity, problems);
    }
    fields.done();
    if (problems.size() == problems_before)
      complain_all(item, plant::ThermalPlant::problems(neighbour), problems);
    if (zones_known) draft.spec.neighbours.push_back(neighbour);
  }
}

}  // namespace emberline::io

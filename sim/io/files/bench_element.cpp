#include <string_view>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kElementExample = "{ heat_capacity: 900 J/K, coupling: 40 W/K }";

/// `heat_capacity`, or the same as `mass` and `specific_heat`.
void read_heat_capacity(Fields& fields, plant::ElementParameters& element, Problems& problems) {
  const auto* mass = fields.optional("mass");
  const auto* specific_heat = fields.optional("specific_heat");
  if (mass == nullptr && specific_heat == nullptr) {
    read_quantity(
        fields.required("heat_capacity", "expected one such as '900 J/K', or 'mass' and 'specific_heat'"),
        Dimension::heat_capacity, Bound::positive, element.heat_capacity_J_per_K, problems);
    return;
  }
  if (fields.node().find("heat_capacity") != nullptr)
    return fields.refuse("heat_capacity", "'mass' and 'specific_heat' say it already: leave one out");
  double mass_kg = 0.0;
  double specific_heat_J_per_kgK = 0.0;
  const bool known =
      read_quantity(fields.required("mass", "expected that of the element, beside its 'specific_heat'"),
                    Dimension::mass, Bound::positive, mass_kg, problems);
  if (read_quantity(fields.required("specific_heat", "expected that of the element, beside its 'mass'"),
                    Dimension::specific_heat, Bound::positive, specific_heat_J_per_kgK, problems) &&
      known)
    element.heat_capacity_J_per_K = mass_kg * specific_heat_J_per_kgK;
}

/// `coupling` or `conductance`, which mean the same, and radiation: one of them at least.
void read_heat_paths(Fields& fields, plant::ElementParameters& element, Problems& problems) {
  const auto* coupling = fields.optional("coupling");
  const auto* conductance = fields.optional("conductance");
  const auto* area = fields.optional("radiating_area");
  if (coupling != nullptr && conductance != nullptr)
    complain(problems, conductance->header, "conductance: the same as 'coupling': leave one out");
  if (coupling == nullptr && conductance == nullptr && area == nullptr)
    coupling = fields.required("coupling",
                               "expected how heat gets to the zone, such as '40 W/K', or "
                               "'radiating_area' and 'emissivity'");
  read_quantity(coupling != nullptr ? coupling : conductance, Dimension::thermal_conductance, Bound::positive,
                element.coupling_W_per_K, problems);
  read_quantity(area, Dimension::area, Bound::positive, element.radiating_area_m2, problems);
  if (area == nullptr) return fields.refuse("emissivity", "only what has a 'radiating_area' radiates");
  read_emissivity(fields.required("emissivity", "expected that of element and zone together, such as '80 %'"),
                  element.emissivity, problems);
}

}  // namespace

void read_emissivity(const Node* node, double& into, Problems& problems) {
  read_within(node, Dimension::ratio, {0.0, 1.0}, "an emissivity from 0 % to 100 %", into, problems);
}

std::optional<plant::ElementParameters> read_element(const Node* node, Problems& problems) {
  if (node == nullptr) return std::nullopt;
  const auto problems_before = problems.size();
  plant::ElementParameters element;
  Fields fields(*node, kElementExample, problems);
  read_heat_capacity(fields, element, problems);
  read_heat_paths(fields, element, problems);
  fields.done();
  if (problems.size() == problems_before)
    complain_all(*node, plant::ThermalPlant::problems(element), problems);
  return element;
}

}  // namespace emberline::io

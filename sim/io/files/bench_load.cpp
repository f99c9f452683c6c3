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

using plant::Connection;

constexpr std::string_view kLoadExample = "{ connection: star-4-wire, cold_resistance: 22 ohm }";
constexpr std::string_view kTransformerExample =
    "{ ratio: 8.3, winding_resistance: 60 mohm, leakage_inductance: 1.2 mH, magnetising_inductance: 1.4 H, "
    "saturated_inductance: 3 mH }";
constexpr int kMostElements = 10'000;
constexpr double kLeakage_A = 10e-3;  // some milliamperes: common practice, no source
constexpr double kMostAgeing = 100.0;

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

/// `connection` is for three-phase supplies; with a single phase there is nothing to choose. False when it
/// could not be read, so that nothing is said of what hangs on it.
bool read_connection(Fields& fields, plant::LoadParameters& load, BenchDraft& draft) {
  if (draft.supply_known && draft.spec.supply.system == plant::System::single_phase) {
    load.connection = Connection::single_phase;
    fields.refuse("connection", "a single-phase supply leaves no choice: leave it out");
    fields.refuse("across", "a single-phase supply leaves no choice: leave it out");
    return fields.node().find("connection") == nullptr;
  }
  static constexpr Choice<Connection> kConnections[] = {{"star-4-wire", Connection::star_4_wire},
                                                        {"star-3-wire", Connection::star_3_wire},
                                                        {"delta", Connection::delta},
                                                        {"open-delta", Connection::open_delta},
                                                        {"single-phase", Connection::single_phase}};
  load.connection = Connection::star_4_wire;
  // With the supply unreadable its complaint is enough.
  const auto* node =
      draft.supply_known
          ? fields.required("connection",
                            "expected 'star-4-wire', 'star-3-wire', 'delta', 'open-delta' or 'single-phase'")
          : fields.optional("connection");
  if (!read_word(node, kConnections, load.connection, draft.problems)) {
    fields.optional("across");
    return false;
  }
  if (load.connection != Connection::single_phase) {
    fields.refuse("across", "only a 'connection: single-phase' load hangs between two wires of one's choice");
    return true;
  }
  using plant::Across;
  static constexpr Choice<Across> kAcross[] = {{"l1-n", Across::l1_n},   {"l2-n", Across::l2_n},
                                               {"l3-n", Across::l3_n},   {"l1-l2", Across::l1_l2},
                                               {"l2-l3", Across::l2_l3}, {"l3-l1", Across::l3_l1}};
  const auto* across =
      fields.required("across", "expected where a single-phase load hangs, such as 'l1-n' or 'l1-l2'");
  read_word(across, kAcross, load.across, draft.problems);
  return true;
}

/// What hangs on the connection.
void read_power_stage(Fields& fields, plant::LoadParameters& load, bool connection_known,
                      Problems& problems) {
  if (connection_known && !load.three_wire()) {
    fields.refuse("controlled_legs", "only star-3-wire and delta can leave one line without thyristors");
  } else {
    read_whole(fields.optional("controlled_legs"), {2, 3}, load.controlled_legs, problems);
  }
  load.leakage_A = kLeakage_A;
  read_quantity(fields.optional("leakage"), Dimension::current, Bound::not_negative, load.leakage_A,
                problems);
  read_quantity(fields.optional("thyristor_drop"), Dimension::voltage, Bound::not_negative,
                load.thyristor_drop_V, problems);
}

void read_ageing(const Node* node, plant::LoadParameters& load, std::size_t legs, Problems& problems) {
  if (!read_per_leg(node, Dimension::ratio, Bound::positive, legs, load.ageing, problems)) return;
  if (std::any_of(load.ageing.begin(), load.ageing.end(), [](double share) { return share > kMostAgeing; }))
    complain_kind(*node, "resistances as shares of the new ones, such as '115 %', up to 10000 %", problems);
}

void read_transformer(const Node* node, plant::LoadParameters& load, Problems& problems) {
  if (node == nullptr) return;
  auto& transformer = load.transformer.emplace();
  Fields fields(*node, kTransformerExample, problems);
  read_quantity(fields.required("ratio", "expected primary to secondary turns, such as 8.3"),
                Dimension::number, Bound::positive, transformer.ratio, problems);
  read_quantity(fields.optional("winding_resistance"), Dimension::resistance, Bound::not_negative,
                transformer.winding_resistance_ohm, problems);
  read_quantity(fields.optional("leakage_inductance"), Dimension::inductance, Bound::not_negative,
                transformer.leakage_inductance_H, problems);
  read_quantity(fields.optional("magnetising_inductance"), Dimension::inductance, Bound::positive,
                transformer.magnetising_inductance_H, problems);
  read_quantity(fields.optional("knee"), Dimension::ratio, Bound::positive, transformer.knee, problems);
  const auto* saturated = fields.optional("saturated_inductance");
  if (read_quantity(saturated, Dimension::inductance, Bound::positive, transformer.saturated_inductance_H,
                    problems) &&
      transformer.saturated_inductance_H > transformer.magnetising_inductance_H)
    complain_kind(*saturated, "less than the magnetising inductance: a saturated core has next to none",
                  problems);
  read_quantity(fields.optional("remanence"), Dimension::ratio, Bound::not_negative, transformer.remanence,
                problems);
  fields.done();
}

/// Whether a unit, or each of its copies, has such a zone to heat.
bool zone_known(const Node& heats, const BenchDraft& draft, Problems& problems) {
  const auto zones = draft.copies ? draft.names.copies("zones", heats.text) : std::nullopt;
  if (!zones) return draft.names.check(heats, "zones", problems);
  if (*zones == *draft.copies) return true;
  complain(problems, heats.place,
           "heats: '" + heats.text + "' is there " + std::to_string(*zones) + " times, this unit " +
               std::to_string(*draft.copies) + " times; expected a zone for each, or one for all");
  return false;
}

/// Where the heat goes, and through what.
void read_heat(Fields& fields, bench::UnitEntry& entry, BenchDraft& draft) {
  auto& problems = draft.problems;
  const auto* heats = fields.optional("heats");
  std::string zone;
  if (read_text(heats, zone, problems) && zone_known(*heats, draft, problems)) entry.heats = zone;
  const auto* node = fields.optional("element");
  const auto element = read_element(node, problems);
  if (node != nullptr && heats == nullptr)
    complain(problems, node->header,
             "element: without 'heats: ZONE' an element stays at 20 degC, so it needs no heat capacity");
  if (element) {
    entry.element = *element;
  } else if (entry.heats) {
    const auto found = draft.zone_elements.find(*entry.heats);
    if (found != draft.zone_elements.end()) entry.element = found->second;
  }
}

}  // namespace

void read_load(const Node* node, bench::UnitEntry& entry, BenchDraft& draft) {
  auto& load = entry.load;
  load.material = plant::find_material("constant");
  load.leakage_A = kLeakage_A;
  if (node == nullptr) return;
  auto& problems = draft.problems;
  const auto problems_before = problems.size();
  Fields fields(*node, kLoadExample, problems);
  const bool connection_known = read_connection(fields, load, draft);
  const std::size_t legs = load.legs();
  read_elements(fields.optional("elements"), load, problems);
  read_material(fields.optional("material"), load, problems);
  read_per_leg(
      fields.required("cold_resistance",
                      "expected that of one element at 20 degC, such as '22 ohm', or one for each leg"),
      Dimension::resistance, Bound::positive, legs, load.cold_resistance_ohm, problems);
  read_per_leg(fields.optional("inductance"), Dimension::inductance, Bound::not_negative, legs,
               load.inductance_H, problems);
  read_ageing(fields.optional("ageing"), load, legs, problems);
  read_power_stage(fields, load, connection_known, problems);
  if (connection_known && load.three_wire()) {
    fields.refuse("transformer",
                  "only loads whose legs are independent have one: star-4-wire, open-delta, single-phase");
  } else {
    read_transformer(fields.optional("transformer"), load, problems);
  }
  read_heat(fields, entry, draft);
  fields.done();
  if (draft.supply_known && problems.size() == problems_before)
    complain_all(*node, plant::Network::problems(draft.spec.supply, load), problems);
}

}  // namespace emberline::io

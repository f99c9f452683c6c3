#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

/// All of so many, or the one that is meant.
std::vector<std::size_t> chosen(const std::optional<std::size_t>& part, std::size_t count) {
  if (part) return {*part};
  std::vector<std::size_t> all(count);
  for (std::size_t i = 0; i < count; ++i) all[i] = i;
  return all;
}

std::string part_name(std::size_t part) { return "l" + std::to_string(part + 1); }

}  // namespace

std::vector<std::size_t> phases_of(const bench::BenchSpec& spec, const Target& target) {
  return chosen(target.part, spec.supply.system == plant::System::three_phase ? 3 : 1);
}

std::string phases_in_words(const bench::BenchSpec& spec, const Target& target) {
  const auto phases = phases_of(spec, target);
  if (phases.size() > 1) return "all three phases";
  return spec.supply.system == plant::System::three_phase ? "phase " + part_name(phases.front())
                                                          : "the supply";
}

std::string supply_name(const Target& target) {
  return target.part ? "supply." + part_name(*target.part) : "supply";
}

std::vector<std::size_t> legs_of(const bench::BenchSpec& spec, const Target& target) {
  const auto& load = spec.units.at(target.index).load;
  const bool two_pairs =
      target.kind == TargetKind::thyristor && load.three_wire() && load.controlled_legs == 2;
  return chosen(target.part, two_pairs ? 2 : load.legs());
}

std::string leg_name(const bench::BenchSpec& spec, const Target& target, std::size_t leg) {
  const auto& entry = spec.units.at(target.index);
  return entry.load.legs() == 1 ? entry.unit.name : entry.unit.name + "." + part_name(leg);
}

std::string side_in_words(Side side) {
  return side == Side::both      ? "both thyristors"
         : side == Side::forward ? "forward thyristor"
                                 : "backward thyristor";
}

}  // namespace emberline::faults

#include "sim/faults/load/element_open.hpp"

#include <algorithm>

#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

constexpr double kMost = 10'000.0;
constexpr ActionKey kKeys[] = {{.key = "count",
                                .kind = ActionKey::Kind::whole,
                                .fallback = 1.0,
                                .meaning = "how many of the elements of a leg are broken then",
                                .least = 1.0,
                                .most = kMost}};

std::string sentence(const plant::LoadParameters& load, int open) {
  const std::string of_all = std::to_string(open) + " of " + std::to_string(load.elements);
  if (load.grouping == plant::Grouping::series && load.elements > 1)
    return of_all + " elements in series open: nothing flows in this leg";
  if (open == load.elements)
    return (load.elements == 1 ? std::string("its element") : "all " + std::to_string(open) + " elements") +
           " open: nothing flows in this leg";
  return of_all + " elements in parallel open: the others go on, with less power together";
}

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const auto& load = bench.spec().units.at(action.target.index).load;
  const int count = static_cast<int>(action.value("count"));
  alter_legs(bench, action.target, at, [&](plant::LegState& state, std::size_t) {
    state.elements_open = std::max(state.elements_open, count);  // what broke before stays broken
    return sentence(load, state.elements_open);
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return alter_legs(bench, target, at, [](plant::LegState& state, std::size_t) {
    state.elements_open = 0;
    return std::string("new elements: none is open any more");
  });
}

std::string refusal(const bench::BenchSpec& spec, const Action& action) {
  const auto& entry = spec.units.at(action.target.index);
  if (action.value("count") <= entry.load.elements) return {};
  return "'count': a leg of '" + entry.unit.name + "' has " + std::to_string(entry.load.elements) +
         (entry.load.elements == 1 ? " element" : " elements");
}

}  // namespace

const ActionKind kElementOpen{
    "element_open", TargetKind::leg, "breaks heating elements of a leg", Duration{}, perform, kKeys, mended,
    mend,           refusal};

}  // namespace emberline::faults

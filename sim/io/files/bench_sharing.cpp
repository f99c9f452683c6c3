#include <algorithm>
#include <string>

#include "sim/base/duration_text.hpp"
#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

/// The group that a unit is in already; null if in none.
const bench::LoadSharingSpec* group_of(const bench::BenchSpec& spec, const std::string& unit) {
  for (const auto& group : spec.load_sharing)
    if (std::find(group.units.begin(), group.units.end(), unit) != group.units.end()) return &group;
  return nullptr;
}

/// Bursts follow each other only when all begin in the same rhythm.
bool fits(const Node& node, const std::string& unit, const bench::LoadSharingSpec& group, BenchDraft& draft) {
  auto& problems = draft.problems;
  if (const auto* other = group_of(draft.spec, unit)) {
    complain(problems, node.place, "units: '" + unit + "' shares its load in '" + other->name + "' already");
    return false;
  }
  if (!draft.firing_known.contains(unit)) return false;  // complained about elsewhere
  const auto firing_of = [&](const std::string& name) -> const unit::FiringSpec& {
    return draft.spec.units.at(*draft.spec.find_unit(name)).unit.firing;
  };
  const auto& firing = firing_of(unit);
  if (firing.mode != unit::FiringMode::burst) {
    complain(problems, node.place,
             "units: '" + unit + "' is not in 'mode: burst', so it has no base to share");
    return false;
  }
  if (group.units.empty() || firing_of(group.units.front()).base == firing.base) return true;
  complain(problems, node.place,
           "units: the base of '" + unit + "' is " + format_duration(firing.base) + ", that of '" +
               group.units.front() + "' " + format_duration(firing_of(group.units.front()).base) +
               "; expected the same");
  return false;
}

}  // namespace

void read_load_sharing(const Node& node, BenchDraft& draft) {
  bench::LoadSharingSpec group;
  group.name = node.label;
  Fields fields(node, "{ units: [first, second] }", draft.problems);
  const auto* units = fields.required("units", "expected the units whose bursts follow each other");
  const auto problems_before = draft.problems.size();
  const auto list = read_list(units, draft.problems);
  std::size_t meant = 0;
  for (const auto* item : list) {
    for (const auto& unit : draft.names.meant_by(*item, "units", draft.problems)) {
      ++meant;
      if (std::find(group.units.begin(), group.units.end(), unit) != group.units.end()) {
        complain(draft.problems, item->place,
                 "units: '" + unit + "' stands twice, as one of copies and by itself");
        break;
      }
      // Of copies one that does not fit is enough to be told.
      if (!fits(*item, unit, group, draft)) break;
      group.units.push_back(unit);
    }
  }
  if (meant == 1 && list.size() == 1 && draft.problems.size() == problems_before)
    complain_kind(*units, "two units or more", draft.problems);
  fields.done();
  draft.spec.load_sharing.push_back(std::move(group));
}

}  // namespace emberline::io

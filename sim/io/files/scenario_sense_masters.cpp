#include <algorithm>
#include <string>
#include <string_view>

#include "sim/io/files/scenario_sense_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/master_targets.hpp"

namespace emberline::io {
namespace {

using rehearsal::Conduct;
using rehearsal::ConductKind;
using rehearsal::MasterSpec;
using rehearsal::Target;

/// So many names are enough to tell what was meant.
constexpr std::size_t kMostNames = 8;

struct AskedPoint {
  std::size_t unit;
  registers::Point point;
  const std::string& name;
};

/// Whether who reads or writes the target reads or writes the point: they share a register, if not the row.
bool touches(const Target& target, const AskedPoint& asked, const bench::BenchSpec& bench) {
  if (target.io_block || target.slave != asked.unit) return false;
  const auto& rows = bench.units[asked.unit].unit.table->rows();
  return std::any_of(rows.begin(), rows.end(), [&](const registers::Row& row) {
    return carries_point(row) && row.point == asked.point && row.table == target.row.table &&
           row.address == target.row.address;
  });
}

/// What is about reading, and what about writing.
struct Deed {
  std::vector<const Target*> (*targets)(const MasterSpec& master);
  std::string_view does;  ///< "writes"
  std::string_view done;  ///< "written"
};
constexpr Deed kWrites{rehearsal::write_targets, "writes", "written"};
constexpr Deed kReads{rehearsal::read_targets, "reads", "read"};

void check_deed(const Deed& deed, const AskedPoint& asked, const std::string& by, const Place& place,
                const std::string& label, ScenarioDraft& draft) {
  std::vector<std::string> names;
  for (const auto& master : draft.spec.masters) {
    if (!by.empty() && master.name != by) continue;
    for (const auto* target : deed.targets(master)) {
      if (touches(*target, asked, draft.spec.bench)) return;
      if (std::find(names.begin(), names.end(), target->name) == names.end()) names.push_back(target->name);
    }
  }
  std::string text = label + (by.empty() ? "no stand-in" : "stand-in '" + by + "'");
  text += (by.empty() ? " ever " : " never ") + std::string(deed.does) + " '" + asked.name + "'";
  if (names.empty()) {
    text += "; nothing at all is " + std::string(deed.done);
  } else {
    const bool more = names.size() > kMostNames;
    if (more) names.resize(kMostNames);
    text += "; " + std::string(deed.done) + ": " + listed(names) + (more ? ", ..." : "");
  }
  complain(draft.problems, place, text);
}

/// True if no write at all would leave nothing to judge, or could not be right.
bool needs_write(const Conduct& conduct) {
  switch (conduct.kind) {
    case ConductKind::first_write:
    case ConductKind::last_write:
    case ConductKind::every_write:
    case ConductKind::read_back:
    case ConductKind::read_before_write:
      return true;
    case ConductKind::write_count:
    case ConductKind::write_rate:
      return conduct.condition && !rehearsal::holds(*conduct.condition, 0.0);
    default:
      return false;
  }
}

void check_conduct(const Node& node, const Conduct& conduct, ScenarioDraft& draft) {
  const auto* entry = node.find(conduct.name);
  const Place place = entry != nullptr ? entry->header : node.place;
  const AskedPoint point{conduct.index, conduct.point, conduct.name};
  const std::string label = label_of(node);
  if (needs_write(conduct)) check_deed(kWrites, point, conduct.by, place, label, draft);
  if (conduct.kind == ConductKind::poll_period || conduct.kind == ConductKind::read_back)
    check_deed(kReads, point, conduct.by, place, label, draft);
  if (conduct.kind == ConductKind::read_before_write) {
    const AskedPoint other{conduct.other_index, conduct.other_point, conduct.other_name};
    check_deed(kReads, other, conduct.by, entry != nullptr ? entry->place : place, label, draft);
  }
}

}  // namespace

void check_masters(const Node& node, const rehearsal::Expectation& expectation, ScenarioDraft& draft) {
  if (draft.spec.masters.empty()) return;
  const auto* by = node.find("by");
  if (by != nullptr && draft.spec.clock == rehearsal::Clock::wall && draft.spec.masters.size() > 1)
    complain(draft.problems, by->place,
             "by: with 'clock: wall' masters come over real lines, where several cannot be told apart");
  if (expectation.conduct) {
    for (const auto& word : conduct_words())
      if (const auto* what = node.find(word)) check_conduct(*what, *expectation.conduct, draft);
  }
  const auto* steps = node.find("sequence");
  for (std::size_t i = 0; i < expectation.sequence.size(); ++i) {
    const auto& write = expectation.sequence[i].write;
    if (!write || steps == nullptr || i >= steps->items.size()) continue;
    if (const auto* what = steps->items[i].find("write")) check_conduct(*what, *write, draft);
  }
}

}  // namespace emberline::io

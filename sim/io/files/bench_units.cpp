#include <algorithm>
#include <string>
#include <string_view>
#include <utility>

#include "sim/bench/signal.hpp"
#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/paths.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/unknown_signal.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kUnitExample = "{ id: 1, lines: [field], registers: FILE, ... }";

void read_table(const Node* node, unit::UnitSpec& unit, BenchDraft& draft) {
  std::string named;
  if (!read_text(node, named, draft.problems)) return;
  const auto path = path_beside(draft.path, named);
  Problems problems;
  unit.table = draft.tables.take(path, problems);
  for (auto& problem : problems) {
    // A file that cannot be used at all is a mistake of the line that names it.
    const bool whole_file = problem.place.line == 0;
    if (whole_file) {
      complain(draft.problems, node->place, "registers: " + problem.place.file + ": " + problem.message);
    } else {
      draft.table_problems.push_back(std::move(problem));
    }
  }
}

void read_rating(const Node* node, unit::UnitSpec& unit, Problems& problems) {
  if (node == nullptr) return;
  Fields fields(*node, "{ voltage: 400 V, current: 63 A }", problems);
  read_quantity(fields.required("voltage"), Dimension::voltage, Bound::positive, unit.rated_voltage_V,
                problems);
  read_quantity(fields.required("current"), Dimension::current, Bound::positive, unit.rated_current_A,
                problems);
  fields.done();
}

/// Measured values are means over whole mains cycles, so there has to be one.
void read_averaging(const Node* node, unit::UnitSpec& unit, const BenchDraft& draft, Problems& problems) {
  if (!read_duration(node, Bound::positive, unit.averaging, problems) || !draft.supply_known) return;
  if (to_seconds(unit.averaging) * draft.spec.supply.frequency_Hz < 1.0 - 1e-6)
    complain_kind(*node, "at least one mains cycle", problems);
}

void read_place(Fields& fields, unit::UnitSpec& unit, BenchDraft& draft) {
  const auto* id_node = fields.required("id", "expected a unit id from 1 to 247");
  const auto id = read_id(id_node, draft.problems);
  unit.lines =
      read_line_names(fields.required("lines", "expected the lines it is on, such as [field]"), draft);
  if (!id) return;
  unit.id = *id;
  if (!draft.copies) claim_id(id_node, *id, unit.name, unit.lines, draft);
}

}  // namespace

void read_unit(const Node& node, BenchDraft& draft) {
  auto& problems = draft.problems;
  bench::UnitEntry entry;
  auto& unit = entry.unit;
  unit.name = node.label;
  Fields fields(node, kUnitExample, problems);
  draft.copies = read_copies(fields.optional("copies"), problems);
  read_place(fields, unit, draft);
  read_identity(fields.optional("identity"), unit.identity, problems);
  read_table(fields.required("registers", "expected the file of its register table"), unit, draft);
  read_rating(fields.required("rating", "expected one such as { voltage: 400 V, current: 63 A }"), unit,
              problems);
  const auto* load = fields.required("load", "expected what it heats, such as { cold_resistance: 22 ohm }");
  read_load(load, entry, draft);
  read_firing(fields.required("firing", "expected one such as { mode: burst-spread }"), load, entry, draft);
  read_control(fields.required("control", "expected one such as { variable: power, full_scale: 24 kW }"),
               unit.control, problems);
  read_limits(fields.optional("limits"), unit.limits, problems);
  read_heat_sink(fields.optional("heat_sink"), entry, problems);
  read_fuse(fields.optional("fuse"), entry, problems);
  read_protections(fields.optional("protections"), entry, problems);
  read_comms_loss(
      fields.required("comms_loss", "expected at least { timeout: 3 s, policy: latch-to-inhibit }"), unit,
      problems);
  read_relays(fields.optional("relays"), unit.relays, problems);
  read_intake(fields.optional("intake"), unit.intake, problems);
  read_duration(fields.optional("turnaround"), Bound::not_negative, unit.turnaround, problems);
  read_duration(fields.optional("start_up"), Bound::not_negative, unit.start_up, problems);
  read_averaging(fields.optional("averaging"), unit, draft, problems);
  fields.optional("local_setpoint");  // read by connect_unit, when all signals are known
  fields.done();
  if (const auto copies = std::exchange(draft.copies, std::nullopt)) {
    add_copies(node, entry, *copies, draft);
  } else {
    draft.spec.units.push_back(std::move(entry));
  }
}

void connect_unit(const Node& node, unit::UnitSpec& unit, BenchDraft& draft) {
  const auto* local = node.find("local_setpoint");
  if (local == nullptr || local->kind != Node::Kind::scalar || local->text.empty()) {
    if (local != nullptr && local->kind != Node::Kind::null)
      complain_kind(*local, "a percentage such as '30 %', or a signal", draft.problems);
    return;
  }
  const bool is_number = local->text.find_first_of("0123456789+-.") == 0;
  if (is_number) {
    if (read_quantity(local, Dimension::ratio, Bound::not_negative, unit.local_setpoint, draft.problems) &&
        *unit.local_setpoint > 1.0)
      complain_kind(*local, "a percentage from 0 % to 100 %", draft.problems);
    return;
  }
  const auto signal = bench::find_signal(draft.spec, local->text);
  if (!signal) {
    complain(draft.problems, local->place,
             "local_setpoint: " + rehearsal::unknown_signal(draft.spec, local->text));
  } else if (bench::signal_info(draft.spec, *signal).dimension != Dimension::ratio) {
    complain_kind(*local, "a signal that is a percentage", draft.problems);
  } else {
    unit.local_setpoint_signal = local->text;
  }
}

void read_contactor(const Node& node, BenchDraft& draft) {
  auto& problems = draft.problems;
  bench::ContactorSpec contactor;
  contactor.name = node.label;
  Fields fields(node, "{ feeds: [soak-heater] }", problems);
  for (const auto* item : read_list(fields.required("feeds", "expected the units behind it"), problems)) {
    const auto meant = draft.names.meant_by(*item, "units", problems);
    if (meant.empty()) continue;
    const auto& own = contactor.feeds;
    const auto twice = std::find_first_of(meant.begin(), meant.end(), own.begin(), own.end());
    if (twice != meant.end()) {
      complain(problems, item->place, "feeds: '" + *twice + "' stands twice, as one of copies and by itself");
      continue;
    }
    const auto& others = draft.spec.contactors;
    const auto other = std::find_if(others.begin(), others.end(), [&](const bench::ContactorSpec& candidate) {
      return std::find_first_of(candidate.feeds.begin(), candidate.feeds.end(), meant.begin(), meant.end()) !=
             candidate.feeds.end();
    });
    if (other != others.end()) {
      complain(problems, item->place,
               "feeds: '" + item->text + "' is fed by contactor '" + other->name + "' already");
    } else {
      contactor.feeds.insert(contactor.feeds.end(), meant.begin(), meant.end());
    }
  }
  fields.done();
  draft.spec.contactors.push_back(std::move(contactor));
}

}  // namespace emberline::io

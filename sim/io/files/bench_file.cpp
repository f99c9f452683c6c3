#include <string>
#include <string_view>
#include <utility>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/file_kind.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

/// Calls `read` for every entry of a section: lines, zones, units, ...
template <class Read>
void each_entry(const Node* section, std::string_view example, BenchDraft& draft, Read read) {
  if (section == nullptr || section->kind == Node::Kind::refused) return;
  if (section->kind != Node::Kind::mapping || section->entries.empty()) {
    complain_kind(*section, example, draft.problems);
    return;
  }
  for (const auto& entry : section->entries) read(entry, draft);
}

void read_panel(const Node* node, BenchDraft& draft) {
  std::string text;
  if (node == nullptr || !read_text(node, text, draft.problems)) return;
  auto panel = bench::parse_panel(text);
  if (panel) {
    draft.spec.panel = std::move(panel).value();
  } else {
    complain(draft.problems, node->place, "panel: " + panel.error());
  }
}

/// What refers to signals of anything, once everything is there.
void connect(const Node* units, const Node* io_blocks, BenchDraft& draft) {
  auto& blocks = draft.spec.io_blocks;
  for (std::size_t i = 0; i < blocks.size(); ++i) connect_io_coils(io_blocks->entries[i], blocks[i], draft);
  for (std::size_t i = 0; i < blocks.size(); ++i) connect_io_inputs(io_blocks->entries[i], blocks[i], draft);
  auto& all = draft.spec.units;
  std::size_t next = 0;
  for (std::size_t i = 0; next < all.size(); ++i) {
    const auto& first = all[next].unit;
    connect_unit(units->entries[i], all[next].unit, draft);
    const std::size_t end = next + static_cast<std::size_t>(copies_of(units->entries[i]).value_or(1));
    for (++next; next < end; ++next) {
      all[next].unit.local_setpoint = first.local_setpoint;
      all[next].unit.local_setpoint_signal = first.local_setpoint_signal;
    }
  }
}

void read_bench(const Node& root, BenchDraft& draft) {
  Fields fields(root, "'bench: My bench'", draft.problems);
  draft.names.declare_all(root, draft.problems);
  read_text(fields.required("bench", "the title of the bench"), draft.spec.title, draft.problems);
  read_supply(fields.required(
                  "supply", "expected one such as { system: three-phase, voltage: 400 V, frequency: 50 Hz }"),
              draft);
  each_entry(
      fields.required("lines", "expected at least one such as { field: { pty: /tmp/emberline/field } }"),
      "lines such as { field: { pty: /tmp/emberline/field } }", draft, read_line);
  each_entry(fields.optional("zones"), "zones such as { soak: { mass: 180 kg, ... } }", draft, read_zone);
  read_neighbours(fields.optional("neighbours"), draft);
  const auto* units = fields.required("units", "expected at least one unit");
  each_entry(units, "units such as { soak-heater: { id: 1, ... } }", draft, read_unit);
  each_entry(fields.optional("load_sharing"), "groups of units such as { ring: { units: [first, second] } }",
             draft, read_load_sharing);
  each_entry(fields.optional("contactors"), "contactors such as { main: { feeds: [soak-heater] } }", draft,
             read_contactor);
  const auto* io_blocks = fields.optional("io_blocks");
  each_entry(io_blocks, "io-blocks such as { marshalling: { id: 20, ... } }", draft, read_io_block);
  read_panel(fields.optional("panel"), draft);
  fields.optional("format");  // read_kind has looked at it
  fields.done();
  connect(units, io_blocks, draft);
}

}  // namespace

Result<bench::BenchSpec, Problems> load_bench(const std::string& path) {
  std::vector<std::string> tables;
  return load_bench_and_tell(path, tables);
}

Result<bench::BenchSpec, Problems> load_bench_and_tell(const std::string& path,
                                                       std::vector<std::string>& tables) {
  BenchDraft draft;
  draft.path = path;
  const auto root = read_kind(path, FileKind::bench, draft.problems);
  if (root) read_bench(*root, draft);
  tables = draft.tables.paths();
  if (draft.problems.empty() && draft.table_problems.empty()) return std::move(draft.spec);
  sort_by_place(draft.problems);
  draft.problems.insert(draft.problems.end(), draft.table_problems.begin(), draft.table_problems.end());
  return Failure{std::move(draft.problems)};
}

}  // namespace emberline::io

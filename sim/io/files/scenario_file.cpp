#include <algorithm>
#include <filesystem>
#include <string>
#include <string_view>
#include <tuple>

#include "sim/base/plain_text.hpp"
#include "sim/bench/signal.hpp"
#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/file_kind.hpp"
#include "sim/io/files/fingerprint.hpp"
#include "sim/io/files/paths.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/rehearsal/unknown_signal.hpp"

namespace emberline::io {
namespace {

/// Of the scenario, its bench and the register tables, these by name: where they lie is nobody's business.
void take_fingerprints(const std::vector<std::string>& tables, ScenarioDraft& draft) {
  auto& files = draft.spec.files;
  files = {fingerprint(draft.path), fingerprint(draft.spec.bench_file)};
  for (const auto& table : tables) files.push_back(fingerprint(table));
  std::sort(files.begin() + 2, files.end(), [](const auto& one, const auto& other) {
    return std::tie(one.name, one.sha256) < std::tie(other.name, other.sha256);
  });
}

/// `record: [supply.power]`: signals for reports.
void read_record(const Node* node, ScenarioDraft& draft) {
  for (const auto* item : read_list(node, draft.problems)) {
    if (!draft.bench_known) continue;
    if (const auto signal = bench::find_signal(draft.spec.bench, item->text)) {
      draft.spec.record.push_back({item->text, *signal});
    } else {
      complain(draft.problems, item->place,
               label_of(*item) + rehearsal::unknown_signal(draft.spec.bench, item->text));
    }
  }
}

void read_bench_of(const Node* node, ScenarioDraft& draft) {
  std::string named;
  if (!read_text(node, named, draft.problems)) return;
  draft.spec.bench_file = path_beside(draft.path, named);
  std::vector<std::string> tables;
  auto bench = load_bench_and_tell(draft.spec.bench_file, tables);
  if (bench) {
    take_fingerprints(tables, draft);
    draft.spec.bench = std::move(bench).value();
    draft.bench_known = true;
    draft.names.declare_all(draft.spec.bench);
    return;
  }
  for (const auto& problem : bench.error()) {
    // A file that cannot be used at all is a mistake of the line that names it.
    const bool whole_file = problem.place.line == 0;
    if (whole_file) {
      complain(draft.problems, node->place, "bench: " + problem.place.file + ": " + problem.message);
    } else {
      draft.bench_problems.push_back(problem);
    }
  }
}

void read_masters(const Node* node, ScenarioDraft& draft) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::mapping || node->entries.empty())
    return complain_kind(*node, "stand-ins such as { plc: { lines: [field], program: [ ... ] } }",
                         draft.problems);
  for (const auto& entry : node->entries) read_master(entry, draft);
}

void read_scenario(const Node& root, ScenarioDraft& draft) {
  auto& problems = draft.problems;
  auto& spec = draft.spec;
  Fields fields(root, "'scenario: My rehearsal'", problems);
  read_text(fields.required("scenario", "the title of the rehearsal"), spec.title, problems);
  read_prose(fields.optional("why"), spec.why, problems);
  read_bench_of(fields.required("bench", "expected the file of the bench it plays on"), draft);
  read_start_from(fields.optional("start_from"), draft);
  static constexpr Choice<rehearsal::Clock> kClocks[] = {{"stepped", rehearsal::Clock::stepped},
                                                         {"wall", rehearsal::Clock::wall}};
  read_word(fields.optional("clock"), kClocks, spec.clock, problems);
  Duration ends{};
  draft.ends_known = read_duration(fields.required("ends", "expected when the run is over, such as '60 s'"),
                                   Bound::positive, ends, problems);
  spec.ends = SimTime{ends};
  read_masters(fields.optional("masters"), draft);
  read_timeline(fields.optional("timeline"), draft);
  read_expectations(fields.required("expect", "and a rehearsal that expects nothing would pass by silence"),
                    draft);
  read_record(fields.optional("record"), draft);
  read_lesson(fields.optional("lesson"), draft);
  fields.optional("format");  // read_kind has looked at it
  fields.done();
  check_sense(root, draft);
}

}  // namespace

Result<rehearsal::ScenarioSpec, Problems> load_scenario(const std::string& path) {
  ScenarioDraft draft;
  draft.path = path;
  draft.spec.file_stem = one_line(std::filesystem::path(path).stem().string());
  const auto root = read_kind(path, FileKind::scenario, draft.problems);
  if (root) read_scenario(*root, draft);
  if (draft.problems.empty() && draft.bench_problems.empty()) return std::move(draft.spec);
  sort_by_place(draft.problems);
  draft.problems.insert(draft.problems.end(), draft.bench_problems.begin(), draft.bench_problems.end());
  return Failure{std::move(draft.problems)};
}

}  // namespace emberline::io

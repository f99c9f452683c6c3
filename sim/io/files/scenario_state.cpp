#include <string>

#include "sim/io/files/fingerprint.hpp"
#include "sim/io/files/paths.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/state_file.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {

void read_start_from(const Node* node, ScenarioDraft& draft) {
  std::string named;
  if (!read_text(node, named, draft.problems)) return;
  const auto path = path_beside(draft.path, named);
  Problems found;
  auto state = read_state(path, found);
  for (const auto& problem : found) {
    // A file that cannot be used at all is a mistake of the line that names it.
    if (problem.place.line == 0) {
      complain(draft.problems, node->place, "start_from: " + path + ": " + problem.message);
    } else {
      draft.bench_problems.push_back(problem);
    }
  }
  if (!state || !draft.bench_known) return;
  const auto unfit = bench::problems(*state, draft.spec.bench);
  for (const auto& problem : unfit)
    complain(draft.problems, node->place, "start_from: " + path + " (of '" + state->bench + "'): " + problem);
  if (!unfit.empty()) return;
  draft.spec.starts_from = std::move(state);
  draft.spec.files.push_back(fingerprint(path));
}

}  // namespace emberline::io

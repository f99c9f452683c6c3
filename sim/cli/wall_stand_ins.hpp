#pragma once

#include <memory>
#include <vector>

#include "sim/bench/journal.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/master/wall_masters.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::cli {

/// Starts a scenario's stand-ins on lines that are open; what they note goes into the journal, over the
/// bench's thread. `scenario`, `wall` and `journal` must outlive them.
[[nodiscard]] std::unique_ptr<io::WallMasters> start_stand_ins(const rehearsal::ScenarioSpec& scenario,
                                                               io::WallBench& wall, bench::Journal& journal,
                                                               const std::vector<io::OpenLine>& lines);

}  // namespace emberline::cli

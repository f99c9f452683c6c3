#pragma once

#include "sim/io/files/scenario_parts.hpp"

namespace emberline::io {

/// What an expectation (under `node`) asks of masters that no stand-in of the scenario ever does. Without
/// stand-ins anybody may come and do anything.
void check_masters(const Node& node, const rehearsal::Expectation& expectation, ScenarioDraft& draft);

}  // namespace emberline::io

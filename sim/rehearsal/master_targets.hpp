#pragma once

#include <vector>

#include "sim/rehearsal/master_spec.hpp"

namespace emberline::rehearsal {

/// Everything a stand-in may ever write, wherever in its program that stands; pointers into `master`.
[[nodiscard]] std::vector<const Target*> write_targets(const MasterSpec& master);

/// Everything it may ever read.
[[nodiscard]] std::vector<const Target*> read_targets(const MasterSpec& master);

}  // namespace emberline::rehearsal

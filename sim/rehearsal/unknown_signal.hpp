#pragma once

#include <string>
#include <string_view>

#include "sim/bench/bench_spec.hpp"

namespace emberline::rehearsal {

/// What to say of a name that is no signal of the bench: the nearest one; or, when nothing is near, what the
/// unit, zone, ... has that was named, or what the bench has if there is none of that name either.
[[nodiscard]] std::string unknown_signal(const bench::BenchSpec& spec, std::string_view name);

}  // namespace emberline::rehearsal

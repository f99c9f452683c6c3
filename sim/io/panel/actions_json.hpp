#pragma once

#include "sim/bench/bench_spec.hpp"
#include "sim/io/report/json_text.hpp"

namespace emberline::io {

/// "actions":[...]: every word of timelines that this bench can have, with all it can be said of and its
/// keys.
void put_actions(JsonText& json, const bench::BenchSpec& spec);

}  // namespace emberline::io

#pragma once

#include <optional>
#include <string>

#include "sim/bench/bench_state.hpp"
#include "sim/io/files/node.hpp"

namespace emberline::io {

/// Reads a saved state of a bench, as bench_state_json() writes it. It is JSON, which is YAML as well: it is
/// read as the files of users are, with line and column in every complaint. Whether a bench can start from it
/// is for bench::problems() to say. Nothing after a complaint.
[[nodiscard]] std::optional<bench::BenchState> read_state(const std::string& path, Problems& problems);

}  // namespace emberline::io

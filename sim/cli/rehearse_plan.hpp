#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/cli/commands.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::cli {

/// One rehearsal of a run: which story, with which seed.
struct Planned {
  std::size_t scenario = 0;  ///< its place among the files
  std::uint64_t seed = 1;
};

/// The `number`-th of `of` shards.
struct Shard {
  std::uint64_t number = 1;
  std::uint64_t of = 1;
};

/// What `rehearse` is about to do.
struct Plan {
  std::vector<rehearsal::ScenarioSpec> scenarios;
  std::vector<Planned> rehearsals;  ///< this shard's, in the order of the files, then of the seeds
  std::size_t listed = 0;           ///< how many there are in all shards
  std::optional<Shard> shard;       ///< nothing: all of them
  std::size_t jobs = 1;             ///< how many at a time
  bool repeats = false;             ///< the seeds tell them apart
  Duration wait_for_master{};       ///< 0: time runs at once
};

/// Reads "2/5"; the error says what was expected.
[[nodiscard]] Result<Shard, std::string> parse_shard(const std::string& text);

/// All files with all seeds, of which a shard gets every `of`-th: the same ones every time, and each in
/// exactly one shard.
[[nodiscard]] std::vector<Planned> listed_rehearsals(std::size_t scenarios, std::uint64_t first_seed,
                                                     std::uint64_t repeats, Shard shard);

/// True if the rehearsal runs on the wall clock.
[[nodiscard]] bool on_wall_clock(const rehearsal::ScenarioSpec& scenario, const RehearseOptions& options);

/// Looks at the options and loads every file before anything starts, so that a mistake in the last one costs
/// no run of the first. Nothing if something cannot be used; it has been complained of then.
[[nodiscard]] std::optional<Plan> plan_rehearsals(const RehearseOptions& options);

}  // namespace emberline::cli

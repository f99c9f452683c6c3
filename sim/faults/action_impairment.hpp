#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/random.hpp"
#include "sim/bench/impairment.hpp"
#include "sim/faults/action.hpp"

namespace emberline::faults {

// What the words for impairments of a line have in common.

/// `share`: of how many it happens to, as a fraction; all of them when it is left out.
[[nodiscard]] constexpr ActionKey share_key(std::string_view meaning) {
  return {.key = "share", .kind = ActionKey::Kind::share, .fallback = 1.0, .meaning = meaning};
}

/// The words of `way`, as bench::Way counts them.
inline constexpr std::string_view kWayWords[] = {"both", "to-units", "to-masters"};
/// `way`: which way it happens.
[[nodiscard]] constexpr ActionKey way_key(bench::Way fallback, std::string_view meaning) {
  return {.key = "way",
          .kind = ActionKey::Kind::word,
          .fallback = static_cast<double>(fallback),
          .meaning = meaning,
          .words = kWayWords};
}
/// The value of `way`.
[[nodiscard]] bench::Way way_of(const Action& action);
/// "on the way to the units", "both ways"
[[nodiscard]] std::string in_words(bench::Way way);

/// Draws whether one of them is hit; a share of 1 hits all.
[[nodiscard]] inline bool hits(double share, Random& chance) { return chance.unit() < share; }
/// "all answers", "30 % of the answers"
[[nodiscard]] std::string portion(double share, std::string_view of);

/// Installs an impairment under the action's word on the action's line; `sentence` says in the journal what
/// masters will see.
void install(bench::Bench& bench, const Action& action, std::unique_ptr<bench::Impairment> impairment,
             std::string sentence, SimTime at);

/// The time between two frames on a line: t3.5 on RTU lines with pacing, otherwise 0.
[[nodiscard]] Duration pause_between_frames(const bench::Bench& bench, std::size_t line);

/// True for an RTU frame whose CRC is right.
[[nodiscard]] bool intact(modbus::ByteView frame);
/// Puts the right CRC behind an RTU frame whose last two bytes are to hold it.
void seal(modbus::Bytes& frame);

}  // namespace emberline::faults

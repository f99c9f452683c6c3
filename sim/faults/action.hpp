#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench.hpp"

namespace emberline::faults {

/// What an action word can be said of.
enum class TargetKind : std::uint8_t {
  line,  ///< a line's name
  wire,  ///< UNIT.terminal.enable, UNIT.terminal.reset or a contactor's name
  unit,  ///< a unit's name
};

/// The thing an action is done to, resolved against a bench.
struct Target {
  TargetKind kind = TargetKind::line;
  std::size_t index = 0;    ///< line or unit
  bench::Bench::Wire wire;  ///< wires
  bool operator==(const Target&) const = default;
};

/// One word of timelines and of `tell`. Each lives in a file of its own that is named after it.
struct ActionKind {
  std::string_view word;     ///< "cut"
  TargetKind target;         ///< what it can be done to
  std::string_view meaning;  ///< one line for listings: "pulls the cable of a line"
  Duration anchor_after;  ///< how long after its start the anchor lies (cycle: the closing edge, 1 s later)
  void (*perform)(bench::Bench& bench, const Target& target, SimTime at);  ///< does it, at the instant `at`
};

/// An action ready to be performed on the bench it was resolved for.
struct Action {
  const ActionKind* kind = nullptr;  ///< never null once resolved
  Target target;
  std::string target_name;                 ///< as written
  [[nodiscard]] std::string text() const;  ///< "cut field"
};

/// Every action word there is, in the order listings show them.
[[nodiscard]] std::span<const ActionKind* const> all_actions();
/// The action with this word; null if there is none.
[[nodiscard]] const ActionKind* find_action(std::string_view word);

/// Resolves a word and its target; the error says what was expected and the nearest known name.
[[nodiscard]] Result<Action, std::string> resolve_action(const bench::BenchSpec& spec, std::string_view word,
                                                         std::string_view target);
/// The same from one line of text, "cut field", as `tell` and standard input take it.
[[nodiscard]] Result<Action, std::string> parse_action(const bench::BenchSpec& spec, std::string_view text);

}  // namespace emberline::faults

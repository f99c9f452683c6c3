#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench.hpp"

namespace emberline::faults {

/// What an action word can be said of.
enum class TargetKind : std::uint8_t {
  line,       ///< a line's name
  rtu_line,   ///< the name of a line that carries RTU frames
  tcp_line,   ///< the name of a line that is reached over TCP
  wire,       ///< UNIT.terminal.enable, UNIT.terminal.reset or a contactor's name
  unit,       ///< a unit's name
  supply,     ///< supply: all its phases; supply.l1: one
  leg,        ///< UNIT: all its legs; UNIT.l1: one, with what is in its line
  thyristor,  ///< UNIT: all its thyristors; UNIT.l1: a pair; UNIT.l1.forward, UNIT.l1.backward: one
  zone,       ///< a zone's name
  plant,      ///< plant: all that is warm
  mendable,   ///< any of the last five; resolved to what it is: supply, leg (units too), thyristor or zone
};

/// Which thyristor of a pair: forward carries the positive current.
enum class Side : std::uint8_t { both, forward, backward };

/// The thing an action is done to, resolved against a bench.
struct Target {
  TargetKind kind = TargetKind::line;
  std::size_t index = 0;            ///< line, unit or zone
  bench::Bench::Wire wire;          ///< wires
  std::optional<std::size_t> part;  ///< phase of the supply or leg of a unit; nothing: all of them
  Side side = Side::both;           ///< thyristors
  bool operator==(const Target&) const = default;
};

/// A further key of an action, "by: 200 ms".
struct ActionKey {
  enum class Kind : std::uint8_t {
    duration,    ///< s, above 0 unless `least` is lower
    share,       ///< 0 to 100 %, as a fraction
    whole,       ///< a whole number from `least` to `most`
    rate,        ///< a plain number from 0 to 1
    word,        ///< one of `words`, as its place among them
    percentage,  ///< from `least` to `most`, both fractions
    frequency,   ///< Hz, from `least` to `most`
    difference,  ///< of temperatures: K, from `least` to `most`
  };
  std::string_view key;
  Kind kind;
  std::optional<double> fallback;  ///< when it is left out; nothing: it has to be written
  std::string_view meaning;        ///< one line for listings
  double least = 0.0;
  double most = 0.0;
  std::span<const std::string_view> words = {};
  /// Words: what to say of a text that is none of them; empty when there is no more to say than which there
  /// are. Null: always so.
  std::string (*hint)(std::string_view text) = nullptr;
};

struct Action;

/// One word of timelines and of `tell`. Each lives in a file of its own that is named after it.
struct ActionKind {
  std::string_view word;     ///< "cut"
  TargetKind target;         ///< what it can be done to
  std::string_view meaning;  ///< one line for listings: "pulls the cable of a line"
  Duration anchor_after;  ///< how long after its start the anchor lies (cycle: the closing edge, 1 s later)
  void (*perform)(bench::Bench& bench, const Action& action, SimTime at);  ///< does it, at the instant `at`
  std::span<const ActionKey> keys = {};
  /// What takes it back; null for what is over at once and cannot take `for: 10 s`.
  Action (*undo)(const Action& action) = nullptr;
  /// What `mend` does about it; false when there was nothing to mend. Null for what cannot be mended.
  bool (*mend)(bench::Bench& bench, const Target& target, SimTime at) = nullptr;
  /// Why this bench cannot have it, for the user; empty if it can. Null: always.
  std::string (*refusal)(const bench::BenchSpec& spec, const Action& action) = nullptr;
  /// What sets it back to where it stands now, before it is carried out, for knobs that are turned; empty:
  /// nothing does. Null: `undo` does.
  std::string (*set_back)(const bench::Bench& bench, const Action& action) = nullptr;
};

/// An action ready to be performed on the bench it was resolved for.
struct Action {
  const ActionKind* kind = nullptr;  ///< never null once resolved
  Target target;
  std::string target_name;         ///< as written
  std::vector<double> values;      ///< one for each of kind->keys, in SI
  std::optional<Duration> lasts;   ///< it is taken back after so long
  std::vector<std::string> extra;  ///< the keys as written, "by 200 ms", for text()

  /// The value of one of its kind's keys.
  [[nodiscard]] double value(std::string_view key) const;
  [[nodiscard]] Duration duration(std::string_view key) const { return from_seconds(value(key)); }
  [[nodiscard]] std::string text() const;  ///< "cut field", "delay field by 200 ms for 10 s"
};

/// Every action word there is, in the order listings show them.
[[nodiscard]] std::span<const ActionKind* const> all_actions();
/// The action with this word; null if there is none. A hyphen is as good as an underscore.
[[nodiscard]] const ActionKind* find_action(std::string_view word);

/// A further key and its value, as written.
using WrittenKey = std::pair<std::string, std::string>;
/// Resolves a word, its target and its further keys (`for` among them); the error says what was expected and
/// the nearest known name.
[[nodiscard]] Result<Action, std::string> resolve_action(const bench::BenchSpec& spec, std::string_view word,
                                                         std::string_view target,
                                                         const std::vector<WrittenKey>& keys = {});
/// The same without its further keys, as one speaks of an action that is told elsewhere: "after the
/// collision".
[[nodiscard]] Result<Action, std::string> name_action(const bench::BenchSpec& spec, std::string_view word,
                                                      std::string_view target);
/// An action from one line of text, "cut field for 10 s", as `tell` and standard input take it.
[[nodiscard]] Result<Action, std::string> parse_action(const bench::BenchSpec& spec, std::string_view text);

/// Performs an action, and what takes it back when its time is over.
void carry_out(bench::Bench& bench, const Action& action, SimTime at);

/// The action that takes this one back: another word on the same target, its keys left out.
[[nodiscard]] Action opposite(const ActionKind& kind, const Action& action);
/// The action that lifts this impairment of a line and no other: `restore LINE only WORD`.
[[nodiscard]] Action lifted(const Action& action);

}  // namespace emberline::faults

#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "sim/io/files/bench_names.hpp"
#include "sim/io/files/node.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::io {

/// What the parts of a scenario know of each other while it is being read. When the bench could not be
/// loaded, everything that needs it is left unresolved without a complaint: one is enough.
struct ScenarioDraft {
  std::string path;
  BenchNames names;
  bool bench_known = false;
  bool ends_known = false;
  bool lines_known = true;  ///< of the stand-in being read: every one is a line of the bench
  std::map<std::string, int> expectation_names;  ///< and the lines they stand on
  rehearsal::ScenarioSpec spec;
  Problems problems;        ///< of the scenario itself
  Problems bench_problems;  ///< of the bench and register tables it names
};

void read_master(const Node& node, ScenarioDraft& draft);
void read_timeline(const Node* node, ScenarioDraft& draft);
void read_expectations(const Node* node, ScenarioDraft& draft);

/// A time since the start of the run. It may lie after the end: whether what hangs on it came is judged, not
/// guessed while reading.
std::optional<SimTime> read_instant(const Node* node, Problems& problems);
/// `cut: field`: an action of the bench, with its further keys; null where it is only spoken of. Nothing
/// after a complaint, or without a bench to look at.
std::optional<faults::Action> read_action(const Node& entry, ScenarioDraft& draft,
                                          const std::vector<faults::WrittenKey>* keys);
/// A time, or an entry of the timeline such as { cut: field }. Whether the timeline ever does that is not
/// asked here: an anchor that never comes is "could not be judged" in the verdict.
std::optional<rehearsal::Anchor> read_anchor(const Node* node, int nth, ScenarioDraft& draft);
/// The conditions of `that`, `always`, `never` or `first_write`.
std::vector<rehearsal::Condition> read_conditions(const Node& node, ScenarioDraft& draft);
/// What a condition holds its signal against, whose name and info are there already: a value, or a comparator
/// such as { above: 11 kW }.
void read_expected_value(const Node& node, rehearsal::Condition& condition, Problems& problems);
/// What is asked about a master's doings under one of its keys: first_write, silence and so on
/// (conduct_words()). `by` stands beside it and is read by whoever reads the expectation. Nothing after a
/// complaint, or without a bench to look at.
std::optional<rehearsal::Conduct> read_conduct(std::string_view kind_word, const Node& node,
                                               ScenarioDraft& draft);
/// The keys that read_conduct knows, in the order of config/scenario.md.
[[nodiscard]] const std::vector<std::string>& conduct_words();

/// After everything has been read without a complaint: what can never happen or never be judged, each in a
/// line with its place.
void check_sense(const Node& root, ScenarioDraft& draft);

}  // namespace emberline::io

#pragma once

#include <map>
#include <memory>
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
  std::map<std::string, int> expectation_names;    ///< and the lines they stand on
  std::map<std::string, std::size_t> entry_names;  ///< of the timeline, and which item of the file each is
  /// The place of each item of the file in spec.timeline, once the timeline has been read.
  std::vector<std::size_t> entry_places;
  /// Poll plans that stand-ins have named, by path; null after complaints about one.
  std::map<std::string, std::shared_ptr<const polling::PollPlan>> poll_plans;
  std::vector<Node> met;  ///< expectations that something waits for
  rehearsal::ScenarioSpec spec;
  Problems problems;        ///< of the scenario itself
  Problems bench_problems;  ///< of the bench, register tables, saved state and poll plans it names
};

void read_master(const Node& node, ScenarioDraft& draft);
void read_timeline(const Node* node, ScenarioDraft& draft);
/// `start_from: PATH`, once the bench is known.
void read_start_from(const Node* node, ScenarioDraft& draft);
void read_expectations(const Node* node, ScenarioDraft& draft);
/// `lesson`: a list of steps, once the timeline has been read.
void read_lesson(const Node* node, ScenarioDraft& draft);

/// A time since the start of the run. It may lie after the end: check_sense knows what hangs on it.
std::optional<SimTime> read_instant(const Node* node, Problems& problems);
/// `cut: field`: an action of the bench, with its further keys; null where it is only spoken of. Nothing
/// after a complaint, or without a bench to look at.
std::optional<faults::Action> read_action(const Node& entry, ScenarioDraft& draft,
                                          const std::vector<faults::WrittenKey>* keys);
/// A moment that something hangs on: a time, or a mapping that names an entry of the timeline, conditions or
/// an expectation, with `plus`. `nth` stands beside it, and is only for what can come again. Whether it ever
/// comes, check_sense asks.
std::optional<rehearsal::Anchor> read_anchor(const Node* node, const Node* nth, ScenarioDraft& draft);
/// `when`: conditions, with `plus`.
std::optional<rehearsal::Anchor> read_awaited(const Node& node, ScenarioDraft& draft);
/// A step of a sequence that is no write: what read_anchor takes as a mapping, without `plus` or `within`.
std::optional<rehearsal::Anchor> read_step_moment(const Node& step, ScenarioDraft& draft);
/// After timeline and expectations have been read: whether there is what is waited for, and whether anything
/// waits for itself.
void check_waiting(ScenarioDraft& draft);
/// Conditions, as they stand under `that`, `when` and so on.
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

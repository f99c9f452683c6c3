#include <algorithm>
#include <string>
#include <string_view>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Expectation;
using Kind = Expectation::Kind;

constexpr std::string_view kExpectationExample =
    "{ name: latches in time, after: { cut: field }, within: 3.1 s, that: { soak-heater.state: inhibited } }";
constexpr int kMostTimes = 1'000'000;

constexpr Choice<Kind> kKinds[] = {
    {"that", Kind::within}, {"eventually", Kind::within}, {"always", Kind::always},
    {"never", Kind::never}, {"comes", Kind::count},       {"sequence", Kind::sequence},
};

struct What {
  const Node* node = nullptr;
  Kind kind = Kind::within;
};

/// What is expected: exactly one of the keys that say so.
What read_what(Fields& fields, ScenarioDraft& draft) {
  What what;
  std::vector<std::string> known;
  const auto consider = [&](std::string_view word, Kind kind) {
    known.emplace_back(word);
    const auto* node = fields.optional(word);
    if (node == nullptr) return;
    if (what.node == nullptr) {
      what = {node, kind};
    } else {
      complain(draft.problems, node->header,
               "one thing is expected at a time: found '" + what.node->label + "' and '" + node->label + "'");
    }
  };
  for (const auto& choice : kKinds) consider(choice.word, choice.value);
  for (const auto& word : conduct_words()) consider(word, Kind::conduct);
  const auto& entries = fields.node().entries;
  const bool stands_empty = std::any_of(entries.begin(), entries.end(), [&](const Node& entry) {
    return std::find(known.begin(), known.end(), entry.label) != known.end();
  });
  if (what.node == nullptr && fields.is_mapping() && !stands_empty)
    complain(draft.problems, fields.node().place,
             "nothing is expected here: one of these is missing: " + listed(known));
  return what;
}

void read_start(Fields& fields, Expectation& expectation, ScenarioDraft& draft) {
  const auto* after = fields.optional("after");
  const auto* from = fields.optional("from");
  if (after != nullptr && from != nullptr)
    complain(draft.problems, from->header, "'from' and 'after' mean the same: leave one out");
  expectation.from = read_anchor(after != nullptr ? after : from, fields.optional("nth"), draft);
}

/// Keys that go with some kinds only.
void read_timing(Fields& fields, const What& what, Expectation& expectation, Problems& problems) {
  const auto kind = what.kind;
  const bool interval = kind == Kind::always || kind == Kind::never;
  const auto asked = [&](std::string_view key, bool fits, const std::string& reason) -> const Node* {
    if (what.node == nullptr || fits) return fields.optional(key);
    fields.refuse(key, reason);
    return nullptr;
  };
  const std::string found = what.node != nullptr ? ", found '" + what.node->label + "'" : "";
  const std::string of_that = "goes with 'that' and 'eventually'" + found;
  read_duration(asked("within", !interval, "says when something comes; how long it stays says 'for'" + found),
                Bound::not_negative, expectation.within, problems);
  read_duration(asked("for", interval || kind == Kind::within,
                      "goes with 'that', 'eventually', 'always' and 'never'" + found),
                Bound::positive, expectation.holds_for, problems);
  const auto* not_before = asked("not_before", kind == Kind::within, of_that);
  read_duration(not_before, Bound::not_negative, expectation.not_before, problems);
  read_switch(asked("becomes", kind == Kind::within, of_that), expectation.becomes, problems);
  if (not_before != nullptr && expectation.within && expectation.not_before > *expectation.within)
    complain(problems, not_before->place,
             "not_before: '" + not_before->text + "' is later than 'within' allows");
}

/// How often `comes` comes.
void read_times(Fields& fields, const What& what, Expectation& expectation, Problems& problems) {
  if (what.node != nullptr && what.kind != Kind::count) {
    for (const auto key : {"at_least", "at_most", "exactly"})
      fields.refuse(key, "goes with 'comes', found '" + what.node->label + "'");
    return;
  }
  const auto* at_least = fields.optional("at_least");
  const auto* at_most = fields.optional("at_most");
  const auto* exactly = fields.optional("exactly");
  if (what.node == nullptr) return;
  read_whole(at_least, {1, kMostTimes, "times"}, expectation.at_least, problems);
  read_whole(at_most, {0, kMostTimes, "times"}, expectation.at_most, problems);
  if (exactly != nullptr && (at_least != nullptr || at_most != nullptr))
    return complain(problems, exactly->header, "exactly: says at least and at most at once: leave one out");
  if (read_whole(exactly, {0, kMostTimes, "times"}, expectation.at_least, problems))
    expectation.at_most = expectation.at_least;
  if (expectation.at_least && expectation.at_most && *expectation.at_least > *expectation.at_most)
    complain(
        problems, at_least->place,
        "at_least: '" + at_least->text + "' is more than 'at_most' allows, which is '" + at_most->text + "'");
  if (at_least == nullptr && at_most == nullptr && exactly == nullptr)
    complain(
        problems, what.node->header,
        "comes: how often? expected 'at_least: 2 times', 'at_most: 5 times' or 'exactly: 3 times' beside it");
}

/// `by`: a stand-in.
void read_by(Fields& fields, const What& what, std::string& by, ScenarioDraft& draft) {
  if (what.node != nullptr && what.kind != Kind::conduct)
    return fields.refuse("by", "goes with what masters do, found '" + what.node->label + "'");
  const auto* node = fields.optional("by");
  if (!read_text(node, by, draft.problems)) return;
  std::vector<std::string> known;
  for (const auto& master : draft.spec.masters) known.push_back(master.name);
  if (std::find(known.begin(), known.end(), by) == known.end())
    complain(draft.problems, node->place, "by: " + unknown("stand-in", by, known));
}

/// One step of a sequence: what comes, and within which time.
std::optional<rehearsal::SequenceStep> read_step(const Node& node, ScenarioDraft& draft) {
  if (node.kind != Node::Kind::mapping) {
    complain_kind(node, "a step such as { soak-heater.state: running } or { cut: field }", draft.problems);
    return std::nullopt;
  }
  rehearsal::SequenceStep step;
  read_duration(node.find("within"), Bound::not_negative, step.within, draft.problems);
  if (const auto* write = node.find("write")) {
    for (const auto& other : node.entries)
      if (&other != write && other.label != "within")
        complain(draft.problems, other.header,
                 "a step is one thing, found 'write' and '" + other.label + "'");
    step.write = read_conduct("first_write", *write, draft);
    if (!step.write) return std::nullopt;
    step.text = "write of " + step.write->name;
    if (step.write->condition) step.text += " " + rehearsal::describe_expected(*step.write->condition);
    return step;
  }
  auto moment = read_step_moment(node, draft);
  if (!moment) return std::nullopt;
  step.text = moment->text;
  if (!moment->conditions.empty()) {
    step.conditions = std::move(moment->conditions);
  } else {
    step.happens = std::move(moment);
  }
  return step;
}

void read_sequence(const Node& node, Expectation& expectation, ScenarioDraft& draft) {
  if (node.kind != Node::Kind::sequence || node.items.size() < 2)
    return complain_kind(
        node, "a list of two steps or more, such as [{ cut: field }, { soak-heater.state: inhibited }]",
        draft.problems);
  for (const auto& item : node.items)
    if (auto step = read_step(item, draft)) expectation.sequence.push_back(std::move(*step));
}

void read_expected(const What& what, const std::string& by, Expectation& expectation, ScenarioDraft& draft) {
  if (what.node == nullptr) return;
  if (what.kind == Kind::conduct) {
    expectation.conduct = read_conduct(what.node->label, *what.node, draft);
    if (expectation.conduct) expectation.conduct->by = by;
  } else if (what.kind == Kind::sequence) {
    read_sequence(*what.node, expectation, draft);
  } else {
    expectation.conditions = read_conditions(*what.node, draft);
  }
}

/// Reports list outcomes by name, so each stands once.
void read_name(const Node* node, Expectation& expectation, ScenarioDraft& draft) {
  if (!read_text(node, expectation.name, draft.problems)) return;
  const auto [first, is_new] = draft.expectation_names.try_emplace(expectation.name, node->place.line);
  if (!is_new)
    complain(draft.problems, node->place,
             "name '" + expectation.name + "' is already used in line " + std::to_string(first->second));
}

void read_expectation(const Node& node, ScenarioDraft& draft) {
  auto& problems = draft.problems;
  Expectation expectation;
  expectation.place = node.place;
  Fields fields(node, kExpectationExample, problems);
  read_name(fields.required("name", "the sentence that will be passed or failed"), expectation, draft);
  read_start(fields, expectation, draft);
  expectation.until = read_anchor(fields.optional("until"), nullptr, draft);
  const auto what = read_what(fields, draft);
  expectation.kind = what.kind;
  read_timing(fields, what, expectation, problems);
  read_times(fields, what, expectation, problems);
  std::string by;
  read_by(fields, what, by, draft);
  fields.done();
  read_expected(what, by, expectation, draft);
  draft.spec.expectations.push_back(std::move(expectation));
}

}  // namespace

void read_expectations(const Node* node, ScenarioDraft& draft) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(*node, "a list of expectations", draft.problems);
  for (const auto& item : node->items) read_expectation(item, draft);
  check_waiting(draft);
}

}  // namespace emberline::io

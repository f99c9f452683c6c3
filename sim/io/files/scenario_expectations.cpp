#include <array>
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
constexpr int kMostOccurrences = 1'000'000;

struct What {
  const Node* node = nullptr;
  Kind kind = Kind::within;
};

/// that, always, never or first_write: exactly one.
What read_what(Fields& fields, ScenarioDraft& draft) {
  static constexpr Choice<Kind> kKinds[] = {{"that", Kind::within},
                                            {"always", Kind::always},
                                            {"never", Kind::never},
                                            {"first_write", Kind::conduct}};
  What what;
  for (const auto& choice : kKinds) {
    const auto* node = fields.optional(choice.word);
    if (node == nullptr) continue;
    if (what.node != nullptr) {
      complain(draft.problems, node->header,
               "one expectation, one of 'that', 'always', 'never' and 'first_write': found '" +
                   what.node->label + "' and '" + node->label + "'");
      continue;
    }
    what = {node, choice.value};
  }
  if (what.node == nullptr && fields.is_mapping())
    complain(draft.problems, fields.node().place,
             "nothing is expected here: 'that', 'always', 'never' or 'first_write' is missing");
  return what;
}

void read_start(Fields& fields, Expectation& expectation, ScenarioDraft& draft) {
  const auto* after = fields.optional("after");
  const auto* from = fields.optional("from");
  const auto* start = after != nullptr ? after : from;
  if (after != nullptr && from != nullptr)
    complain(draft.problems, from->header, "'from' and 'after' mean the same: leave one out");
  int nth = 1;
  const auto* nth_node = fields.optional("nth");
  const bool counts = start != nullptr && start->kind == Node::Kind::mapping;
  if (nth_node != nullptr && !counts) {
    complain(draft.problems, nth_node->header,
             "nth: counts entries of the timeline, so it needs one under 'after' or 'from'");
  } else {
    read_whole(nth_node, {1, kMostOccurrences}, nth, draft.problems);
  }
  expectation.from = read_anchor(start, nth, draft);
}

/// Keys that only make sense for `that`.
void read_timing(Fields& fields, const What& what, Expectation& expectation, Problems& problems) {
  if (what.node != nullptr && what.kind != Kind::within) {
    for (const auto key : {"within", "not_before", "becomes"}) fields.refuse(key, "goes with 'that' only");
    return;
  }
  read_duration(fields.optional("within"), Bound::not_negative, expectation.within, problems);
  const auto* not_before = fields.optional("not_before");
  read_duration(not_before, Bound::not_negative, expectation.not_before, problems);
  read_switch(fields.optional("becomes"), expectation.becomes, problems);
  if (not_before != nullptr && expectation.within && expectation.not_before > *expectation.within)
    complain(problems, not_before->place,
             "not_before: '" + not_before->text + "' is later than 'within' allows");
}

/// first_write is about one point that a master can write.
void check_first_write(const Node& node, Expectation& expectation, ScenarioDraft& draft) {
  if (node.entries.size() != 1)
    return complain_kind(node, "one written point such as { soak-heater.setpoint: { at_most: 0 % } }",
                         draft.problems);
  if (expectation.conditions.empty()) return;
  const auto& condition = expectation.conditions.front();
  const auto& signal = condition.signal;
  rehearsal::Conduct conduct;
  conduct.name = condition.name;
  conduct.index = signal.index;
  conduct.point = static_cast<registers::Point>(signal.sub);
  conduct.condition = condition;
  expectation.conduct = conduct;
  const bool writable = signal.kind == bench::SignalId::Kind::unit_point &&
                        registers::point_info(static_cast<registers::Point>(signal.sub)).writable;
  if (!writable)
    complain(
        draft.problems, node.entries.front().header,
        "first_write: '" + expectation.conditions.front().name + "' is no point that a master could write");
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
  expectation.until = read_anchor(fields.optional("until"), 1, draft);
  const auto what = read_what(fields, draft);
  expectation.kind = what.kind;
  read_timing(fields, what, expectation, problems);
  fields.done();
  if (what.node != nullptr) {
    expectation.conditions = read_conditions(*what.node, draft);
    if (what.kind == Kind::conduct && what.node->kind == Node::Kind::mapping)
      check_first_write(*what.node, expectation, draft);
  }
  draft.spec.expectations.push_back(std::move(expectation));
}

}  // namespace

void read_expectations(const Node* node, ScenarioDraft& draft) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(*node, "a list of expectations", draft.problems);
  for (const auto& item : node->items) read_expectation(item, draft);
}

}  // namespace emberline::io

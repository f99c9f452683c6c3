#include <string>
#include <string_view>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/signal_value.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/unknown_signal.hpp"

namespace emberline::io {
namespace {

using rehearsal::Condition;
using Comparator = Condition::Comparator;

constexpr Choice<Comparator> kComparators[] = {
    {"equals", Comparator::equals},   {"not", Comparator::not_equal},     {"above", Comparator::above},
    {"below", Comparator::below},     {"at_least", Comparator::at_least}, {"at_most", Comparator::at_most},
    {"between", Comparator::between}, {"near", Comparator::near},         {"include", Comparator::include},
    {"exclude", Comparator::exclude},
};

/// Whether a signal's values can be compared that way; else what to write instead.
std::string why_not(Comparator comparator, const bench::SignalInfo& info) {
  const bool of_flags = comparator == Comparator::include || comparator == Comparator::exclude;
  if (of_flags) return info.flags.empty() ? "only warnings and trips include or exclude anything" : "";
  if (comparator == Comparator::equals || comparator == Comparator::not_equal) return {};
  return bench::is_quantity(info) ? ""
                                  : "only a quantity can be compared by size: expected 'equals' or 'not'";
}

void read_between(const Node& node, Condition& condition, Problems& problems) {
  if (node.kind != Node::Kind::sequence || node.items.size() != 2)
    return complain_kind(node, "two ends such as [1 A, 2 A]", problems);
  const bool lower = read_signal_value(node.items[0], condition.info, condition.a, problems);
  const bool upper = read_signal_value(node.items[1], condition.info, condition.b, problems);
  if (lower && upper && condition.a > condition.b)
    complain(problems, node.place, "between: the lower end comes first");
}

/// A difference of temperatures may be written in K, too.
void read_tolerance(const Node* node, Condition& condition, Problems& problems) {
  if (node == nullptr) return;
  Node difference = *node;
  auto& text = difference.text;
  if (condition.info.dimension == Dimension::temperature && text.ends_with("K"))
    text = text.substr(0, text.size() - 1) + "degC";
  read_quantity(&difference, condition.info.dimension, Bound::not_negative, condition.b, problems);
}

/// `{ above: 11 kW }`, `{ near: 50 %, tolerance: 1 % }`: one comparator, and what belongs to it.
void read_comparison(const Node& node, Condition& condition, Problems& problems) {
  Fields fields(node, "{ above: 11 kW }", problems);
  const Node* operand = nullptr;
  for (const auto& choice : kComparators) {
    const auto* candidate = fields.optional(choice.word);
    if (candidate == nullptr) continue;
    if (operand != nullptr) {
      complain(problems, candidate->header,
               "one comparator a signal, found '" + operand->label + "' and '" + candidate->label +
                   "'; 'between' has two ends");
      continue;
    }
    operand = candidate;
    condition.comparator = choice.value;
  }
  if (condition.comparator == Comparator::near) {
    read_tolerance(fields.required("tolerance", "expected how near, such as '1 %'"), condition, problems);
  } else {
    fields.refuse("tolerance", "only 'near' has a tolerance");
  }
  fields.done();
  if (operand == nullptr) {
    if (node.entries.empty()) complain_kind(node, "a comparator such as { above: 11 kW }", problems);
    return;
  }
  if (const auto why = why_not(condition.comparator, condition.info); !why.empty()) {
    complain(problems, operand->header, condition.name + ": " + why);
  } else if (condition.comparator == Comparator::between) {
    read_between(*operand, condition, problems);
  } else {
    read_signal_value(*operand, condition.info, condition.a, problems);
  }
}

}  // namespace

void read_expected_value(const Node& node, Condition& condition, Problems& problems) {
  if (node.kind == Node::Kind::mapping) {
    read_comparison(node, condition, problems);
  } else {
    read_signal_value(node, condition.info, condition.a, problems);
  }
}

std::vector<Condition> read_conditions(const Node& node, ScenarioDraft& draft) {
  auto& problems = draft.problems;
  std::vector<Condition> conditions;
  if (node.kind != Node::Kind::mapping || node.entries.empty()) {
    complain_kind(node, "conditions such as { soak-heater.state: running }", problems);
    return conditions;
  }
  if (!draft.bench_known) return conditions;
  for (const auto& entry : node.entries) {
    Condition condition;
    condition.name = entry.label;
    const auto signal = bench::find_signal(draft.spec.bench, entry.label);
    if (!signal) {
      complain(problems, entry.header, rehearsal::unknown_signal(draft.spec.bench, entry.label));
      continue;
    }
    condition.signal = *signal;
    condition.info = bench::signal_info(draft.spec.bench, *signal);
    read_expected_value(entry, condition, problems);
    conditions.push_back(std::move(condition));
  }
  return conditions;
}

}  // namespace emberline::io

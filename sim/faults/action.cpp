#include "sim/faults/action.hpp"

#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/listed.hpp"
#include "sim/faults/line/cut.hpp"
#include "sim/faults/line/restore.hpp"
#include "sim/faults/unit/close.hpp"
#include "sim/faults/unit/cycle.hpp"
#include "sim/faults/unit/open.hpp"
#include "sim/faults/unit/power_off.hpp"
#include "sim/faults/unit/power_on.hpp"
#include "sim/faults/unit/release.hpp"

namespace emberline::faults {
namespace {

constexpr const ActionKind* kActions[] = {&kCut,   &kRestore, &kCycle,    &kOpen,
                                          &kClose, &kRelease, &kPowerOff, &kPowerOn};

struct Candidates {
  std::string what;  ///< "a line of the bench"
  std::vector<std::string> names;
};

Candidates candidates(const bench::BenchSpec& spec, TargetKind kind) {
  Candidates found;
  switch (kind) {
    case TargetKind::line:
      found.what = "a line of the bench";
      for (const auto& line : spec.lines) found.names.push_back(line.name);
      break;
    case TargetKind::unit:
      found.what = "a unit of the bench";
      for (const auto& entry : spec.units) found.names.push_back(entry.unit.name);
      break;
    case TargetKind::wire:
      found.what = "a terminal (UNIT.terminal.enable or UNIT.terminal.reset) or a contactor";
      for (const auto& entry : spec.units) {
        found.names.push_back(entry.unit.name + ".terminal.enable");
        found.names.push_back(entry.unit.name + ".terminal.reset");
      }
      for (const auto& contactor : spec.contactors) found.names.push_back(contactor.name);
      break;
  }
  return found;
}

std::optional<Target> find_target(const bench::BenchSpec& spec, TargetKind kind, std::string_view name) {
  Target target;
  target.kind = kind;
  if (kind == TargetKind::wire) {
    const auto wire = bench::find_wire(spec, name);
    if (!wire) return std::nullopt;
    target.wire = *wire;
    return target;
  }
  const auto index = kind == TargetKind::line ? spec.find_line(name) : spec.find_unit(name);
  if (!index) return std::nullopt;
  target.index = *index;
  return target;
}

}  // namespace

std::string Action::text() const { return std::string(kind->word) + " " + target_name; }

std::span<const ActionKind* const> all_actions() { return kActions; }

const ActionKind* find_action(std::string_view word) {
  for (const auto* kind : kActions)
    if (kind->word == word) return kind;
  return nullptr;
}

Result<Action, std::string> resolve_action(const bench::BenchSpec& spec, std::string_view word,
                                           std::string_view target) {
  const auto* kind = find_action(word);
  if (kind == nullptr) {
    std::vector<std::string> words;
    for (const auto* known : kActions) words.emplace_back(known->word);
    const auto near = nearest(word, words);
    return Failure{"unknown action '" + std::string(word) + "'" +
                   (near.empty() ? "" : ", did you mean '" + std::string(near) + "'") +
                   "? Known: " + listed(words)};
  }
  const auto found = find_target(spec, kind->target, target);
  if (!found) {
    const auto known = candidates(spec, kind->target);
    const auto near = nearest(target, known.names);
    return Failure{
        "'" + std::string(word) + "' needs " + known.what + ", found '" + std::string(target) + "'" +
        (near.empty()
             ? (known.names.empty() ? "; the bench has none" : ": expected one of " + listed(known.names))
             : "; did you mean '" + std::string(near) + "'?")};
  }
  return Action{kind, *found, std::string(target)};
}

Result<Action, std::string> parse_action(const bench::BenchSpec& spec, std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  std::size_t word_end = 0;
  while (word_end < text.size() && !blank(text[word_end]) && text[word_end] != ':') ++word_end;
  const auto word = text.substr(0, word_end);
  auto target = text.substr(word_end);
  // "cut: field" is how the same thing stands in a scenario, and people will type it.
  if (!target.empty() && target.front() == ':') target.remove_prefix(1);
  while (!target.empty() && blank(target.front())) target.remove_prefix(1);
  if (word.empty()) return Failure{std::string("expected an action such as 'cut LINE', found nothing")};
  if (target.find(' ') != std::string_view::npos) {
    return Failure{"expected one word and one name such as 'cut field', found '" + std::string(text) + "'"};
  }
  return resolve_action(spec, word, target);
}

}  // namespace emberline::faults

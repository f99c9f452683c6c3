#include "sim/faults/action.hpp"

#include <algorithm>
#include <cassert>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/duration_text.hpp"
#include "sim/base/listed.hpp"
#include "sim/faults/action_key.hpp"
#include "sim/faults/line/bit_errors.hpp"
#include "sim/faults/line/collision.hpp"
#include "sim/faults/line/cut.hpp"
#include "sim/faults/line/delay.hpp"
#include "sim/faults/line/drop_answers.hpp"
#include "sim/faults/line/drop_requests.hpp"
#include "sim/faults/line/echo.hpp"
#include "sim/faults/line/half_open.hpp"
#include "sim/faults/line/late_answer.hpp"
#include "sim/faults/line/noise.hpp"
#include "sim/faults/line/repeat_answer.hpp"
#include "sim/faults/line/restore.hpp"
#include "sim/faults/line/tcp_refused.hpp"
#include "sim/faults/line/tcp_reset.hpp"
#include "sim/faults/line/tcp_silent.hpp"
#include "sim/faults/line/truncate.hpp"
#include "sim/faults/line/wrong_id.hpp"
#include "sim/faults/unit/close.hpp"
#include "sim/faults/unit/cycle.hpp"
#include "sim/faults/unit/free.hpp"
#include "sim/faults/unit/open.hpp"
#include "sim/faults/unit/power_off.hpp"
#include "sim/faults/unit/power_on.hpp"
#include "sim/faults/unit/release.hpp"
#include "sim/faults/unit/stuck_busy.hpp"

namespace emberline::faults {
namespace {

constexpr const ActionKind* kActions[] = {
    &kCut,          &kRestore,                                                // lines
    &kDropRequests, &kDropAnswers, &kDelay,     &kTruncate,  &kRepeatAnswer,  //
    &kLateAnswer,   &kWrongId,                                                //
    &kBitErrors,    &kNoise,       &kEcho,      &kCollision,                  // with RTU frames
    &kTcpReset,     &kTcpRefused,  &kTcpSilent, &kHalfOpen,                   // over TCP
    &kCycle,        &kOpen,        &kClose,     &kRelease,                    // wires
    &kPowerOff,     &kPowerOn,     &kStuckBusy, &kFree};                      // units

bool suits(TargetKind target, bench::LineKind line) {
  if (target == TargetKind::rtu_line) return bench::carries_rtu(line);
  if (target == TargetKind::tcp_line) return bench::over_tcp(line);
  return true;
}

struct Candidates {
  std::string what;  ///< "a line of the bench"
  std::vector<std::string> names;
};

Candidates candidates(const bench::BenchSpec& spec, TargetKind kind) {
  Candidates found;
  switch (kind) {
    case TargetKind::line:
    case TargetKind::rtu_line:
    case TargetKind::tcp_line:
      found.what = kind == TargetKind::line       ? "a line of the bench"
                   : kind == TargetKind::rtu_line ? "a line that carries RTU frames"
                                                  : "a line that is reached over TCP";
      for (const auto& line : spec.lines)
        if (suits(kind, line.kind)) found.names.push_back(line.name);
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
  const auto index = kind == TargetKind::unit ? spec.find_unit(name) : spec.find_line(name);
  if (!index || (kind != TargetKind::unit && !suits(kind, spec.lines[*index].kind))) return std::nullopt;
  target.index = *index;
  return target;
}

std::vector<std::string> key_names(const ActionKind& kind) {
  std::vector<std::string> names;
  for (const auto& key : kind.keys) names.emplace_back(key.key);
  if (kind.undo != nullptr) names.emplace_back(kFor.key);
  return names;
}

/// Fills in the values of the further keys; the error is for the user.
Result<Done, std::string> read_keys(Action& action, const std::vector<WrittenKey>& written) {
  const ActionKind& kind = *action.kind;
  std::vector<bool> given(kind.keys.size(), false);
  for (const auto& key_written : written) {
    const std::string& name = key_written.first;
    const std::string& text = key_written.second;
    const bool is_for = name == kFor.key && kind.undo != nullptr;
    const auto known = std::find_if(kind.keys.begin(), kind.keys.end(),
                                    [&](const ActionKey& key) { return key.key == name; });
    if (!is_for && known == kind.keys.end()) {
      const auto names = key_names(kind);
      if (name == kFor.key)
        return Failure{"'" + std::string(kind.word) + "' is over at once and takes no 'for'"};
      return Failure{"'" + std::string(kind.word) + "' has no key '" + name + "'" +
                     (names.empty() ? "; it takes none" : "; it takes " + listed(names))};
    }
    const auto value = parse_action_value(is_for ? kFor : *known, text);
    if (!value) return Failure{value.error()};
    if (is_for && action.lasts) return Failure{std::string("'for' stands twice")};
    action.extra.push_back(name + " " + text);
    if (is_for) {
      action.lasts = from_seconds(*value);
      continue;
    }
    const auto place = static_cast<std::size_t>(known - kind.keys.begin());
    if (given[place]) return Failure{"'" + name + "' stands twice"};
    given[place] = true;
    action.values[place] = *value;
  }
  for (std::size_t i = 0; i < kind.keys.size(); ++i) {
    if (given[i] || kind.keys[i].fallback) continue;
    return Failure{"'" + std::string(kind.word) + "' needs '" + std::string(kind.keys[i].key) +
                   "': " + std::string(kind.keys[i].meaning)};
  }
  return Done{};
}

}  // namespace

double Action::value(std::string_view key) const {
  for (std::size_t i = 0; i < kind->keys.size(); ++i)
    if (kind->keys[i].key == key) return values[i];
  assert(false);
  return 0.0;
}

std::string Action::text() const {
  std::string text = std::string(kind->word) + " " + target_name;
  for (const auto& key : extra) text += " " + key;
  return text;
}

std::span<const ActionKind* const> all_actions() { return kActions; }

const ActionKind* find_action(std::string_view word) {
  const auto same = [](char a, char b) { return a == b || (a == '_' && b == '-'); };
  for (const auto* kind : kActions)
    if (std::equal(kind->word.begin(), kind->word.end(), word.begin(), word.end(), same)) return kind;
  return nullptr;
}

Result<Action, std::string> resolve_action(const bench::BenchSpec& spec, std::string_view word,
                                           std::string_view target, const std::vector<WrittenKey>& keys) {
  auto named = name_action(spec, word, target);
  if (!named) return named;
  Action action = std::move(named).value();
  if (const auto read = read_keys(action, keys); !read) return Failure{read.error()};
  return action;
}

Result<Action, std::string> name_action(const bench::BenchSpec& spec, std::string_view word,
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
  if (!found && spec.find_line(target) && kind->target == TargetKind::rtu_line)
    return Failure{"'" + std::string(word) + "' is for lines that carry RTU frames; '" + std::string(target) +
                   "' is Modbus TCP, where no byte comes damaged, uncalled-for or from a third party"};
  if (!found && spec.find_line(target) && kind->target == TargetKind::tcp_line)
    return Failure{"'" + std::string(word) + "' is for lines that are reached over TCP; '" +
                   std::string(target) + "' is a serial line, which has no connections"};
  if (!found) {
    const auto known = candidates(spec, kind->target);
    const auto near = nearest(target, known.names);
    return Failure{
        "'" + std::string(word) + "' needs " + known.what + ", found '" + std::string(target) + "'" +
        (near.empty()
             ? (known.names.empty() ? "; the bench has none" : ": expected one of " + listed(known.names))
             : "; did you mean '" + std::string(near) + "'?")};
  }
  Action action;
  action.kind = kind;
  action.target = *found;
  action.target_name = std::string(target);
  for (const auto& key : kind->keys) action.values.push_back(key.fallback.value_or(0.0));
  return action;
}

Result<Action, std::string> parse_action(const bench::BenchSpec& spec, std::string_view text) {
  // "cut: field, for: 10 s" is how the same thing stands in a scenario, and people will type it.
  std::vector<std::string> tokens{""};
  for (const char c : text) {
    const bool blank = c == ' ' || c == '\t' || c == '\r' || c == ',' || (c == ':' && tokens.size() != 2);
    if (!blank) {
      tokens.back() += c;
    } else if (!tokens.back().empty()) {
      tokens.emplace_back();
    }
  }
  if (tokens.back().empty()) tokens.pop_back();
  if (tokens.empty()) return Failure{std::string("expected an action such as 'cut LINE', found nothing")};
  const auto* kind = find_action(tokens[0]);
  const std::string target = tokens.size() > 1 ? tokens[1] : "";
  std::vector<WrittenKey> keys;
  const auto names = kind != nullptr ? key_names(*kind) : std::vector<std::string>{};
  for (std::size_t i = 2; i < tokens.size() && kind != nullptr; ++i) {
    if (std::find(names.begin(), names.end(), tokens[i]) != names.end() || keys.empty()) {
      keys.emplace_back(tokens[i], "");
    } else {
      keys.back().second += (keys.back().second.empty() ? "" : " ") + tokens[i];
    }
  }
  return resolve_action(spec, tokens[0], target, keys);
}

void carry_out(bench::Bench& bench, const Action& action, SimTime at) {
  action.kind->perform(bench, action, at);
  if (!action.lasts) return;
  bench.later(at + *action.lasts, [&bench, undo = action.kind->undo(action)](SimTime now) {
    undo.kind->perform(bench, undo, now);
  });
}

Action opposite(const ActionKind& kind, const Action& action) {
  Action other;
  other.kind = &kind;
  other.target = action.target;
  other.target.kind = kind.target;
  other.target_name = action.target_name;
  for (const auto& key : kind.keys) other.values.push_back(key.fallback.value_or(0.0));
  return other;
}

Action lifted(const Action& action) {
  Action restore = opposite(kRestore, action);
  restore.values.at(0) = restore_only(action.kind->word);
  restore.extra = {"only " + std::string(action.kind->word)};
  return restore;
}

}  // namespace emberline::faults

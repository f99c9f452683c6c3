#include "sim/faults/action.hpp"

#include <algorithm>
#include <cassert>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/duration_text.hpp"
#include "sim/base/listed.hpp"
#include "sim/faults/action_key.hpp"
#include "sim/faults/action_target.hpp"
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
#include "sim/faults/load/ageing.hpp"
#include "sim/faults/load/element_open.hpp"
#include "sim/faults/load/leg_open.hpp"
#include "sim/faults/mend.hpp"
#include "sim/faults/plant/speed.hpp"
#include "sim/faults/sensor/sensor_broken.hpp"
#include "sim/faults/sensor/sensor_offset.hpp"
#include "sim/faults/supply/dip.hpp"
#include "sim/faults/supply/frequency.hpp"
#include "sim/faults/supply/phase_back.hpp"
#include "sim/faults/supply/phase_lost.hpp"
#include "sim/faults/unit/close.hpp"
#include "sim/faults/unit/cycle.hpp"
#include "sim/faults/unit/fan_failed.hpp"
#include "sim/faults/unit/free.hpp"
#include "sim/faults/unit/fuse_open.hpp"
#include "sim/faults/unit/learn.hpp"
#include "sim/faults/unit/local.hpp"
#include "sim/faults/unit/misfiring.hpp"
#include "sim/faults/unit/open.hpp"
#include "sim/faults/unit/power_off.hpp"
#include "sim/faults/unit/power_on.hpp"
#include "sim/faults/unit/release.hpp"
#include "sim/faults/unit/reset_cut_out.hpp"
#include "sim/faults/unit/stuck_busy.hpp"
#include "sim/faults/unit/thyristor_open.hpp"
#include "sim/faults/unit/thyristor_shorted.hpp"

namespace emberline::faults {
namespace {

constexpr const ActionKind* kActions[] = {&kCut,           &kRestore,  // lines
                                          &kDropRequests,  &kDropAnswers,
                                          &kDelay,         &kTruncate,
                                          &kRepeatAnswer,              //
                                          &kLateAnswer,    &kWrongId,  //
                                          &kBitErrors,     &kNoise,
                                          &kEcho,          &kCollision,  // with RTU frames
                                          &kTcpReset,      &kTcpRefused,
                                          &kTcpSilent,     &kHalfOpen,  // over TCP
                                          &kCycle,         &kOpen,
                                          &kClose,         &kRelease,  // wires
                                          &kPowerOff,      &kPowerOn,
                                          &kStuckBusy,     &kFree,
                                          &kLocal,  // units
                                          &kPhaseLost,     &kPhaseBack,
                                          &kDip,           &kFrequency,  // supply
                                          &kElementOpen,   &kLegOpen,
                                          &kAgeing,  // load
                                          &kThyristorOpen, &kThyristorShorted,
                                          &kMisfiring,     &kFuseOpen,  // power stage
                                          &kFanFailed,     &kLearn,     //
                                          &kSensorBroken,  &kSensorOffset,
                                          &kResetCutOut,  // zones
                                          &kSpeed,        // all that is warm
                                          &kMend};

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
  if (action.kind->refusal != nullptr)
    if (const auto why = action.kind->refusal(spec, action); !why.empty())
      return Failure{"'" + std::string(action.kind->word) + "': " + why};
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
  if (!found) return Failure{"'" + std::string(word) + "' " + no_such_target(spec, kind->target, target)};
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
  std::optional<Action> undo;
  if (action.kind->undo != nullptr) undo = action.kind->undo(action);
  const std::string taken_back_by = action.kind->set_back != nullptr ? action.kind->set_back(bench, action)
                                    : undo                           ? undo->text()
                                                                     : std::string();
  bench.journal().tell_of_action(true);
  action.kind->perform(bench, action, at);
  bench.journal().tell_of_action(false);
  bench.action_done({at, action.text(), std::string(action.kind->word), action.target_name, taken_back_by});
  if (action.lasts)
    bench.later(at + *action.lasts, [&bench, undo](SimTime now) { carry_out(bench, *undo, now); });
}

Action opposite(const ActionKind& kind, const Action& action) {
  Action other;
  other.kind = &kind;
  other.target = action.target;
  other.target.kind = resolved_kind(kind.target, other.target);
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

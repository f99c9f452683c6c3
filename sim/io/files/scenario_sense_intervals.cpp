// Intervals that can be seen beforehand never to be, or never to be judged.
#include <algorithm>
#include <string>

#include "sim/io/files/scenario_sense_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/question.hpp"

namespace emberline::io {

using rehearsal::Anchor;
using rehearsal::Condition;
using rehearsal::Expectation;
using rehearsal::words_of;
using Comparator = Condition::Comparator;

namespace {

/// Whether two moments hang on the same entry, action or expectation.
bool same_thing(const Anchor& one, const Anchor& other) {
  const bool any = one.entry || !one.action_word.empty() || !one.expectation.empty();
  return any && one.entry == other.entry && one.action_word == other.action_word &&
         one.action_target == other.action_target && one.expectation == other.expectation;
}

/// Whether these conditions, one at least, hold whenever those do, being among them.
bool hold_with(const std::vector<Condition>& these, const std::vector<Condition>& those) {
  return !these.empty() && std::all_of(these.begin(), these.end(), [&](const Condition& one) {
    return std::any_of(those.begin(), those.end(), [&](const Condition& other) {
      return one.name == other.name && one.comparator == other.comparator && one.a == other.a &&
             one.b == other.b;
    });
  });
}

}  // namespace

/// False, and somebody has been told, if an interval that needs some time begins with the end of the run.
bool Sense::check_single(const Node* node, const Expectation& expectation, const KnownTimes::When& from) {
  if (node == nullptr || from.earliest < spec_.ends || !rehearsal::needs_time(expectation)) return true;
  say(node->place, label_of(*node) + in_quotes(expectation.from->text) + " is the end of the run (" +
                       words_of(spec_.ends) + "): there is nothing to see in a single instant");
  return false;
}

void Sense::check_until(const Node& node, const Expectation& expectation, const KnownTimes::When& from) {
  const auto& until = *expectation.until;
  auto ends = times_.end_of(expectation, from);
  const bool too_early = !ends || (ends->exact && ends->earliest <= from.earliest);
  if (!ends) ends = times_.of(until);
  const auto* begins = expectation.from ? &*expectation.from : nullptr;
  // Itself, or it has been.
  const bool same_entry =
      begins != nullptr && same_thing(until, *begins) &&
      (until.plus == begins->plus || (until.plus < begins->plus && times_.entries_of(until).size() < 2));
  // They hold at the beginning, so the end comes with it.
  const bool same_conditions = begins != nullptr && begins->plus == Duration{} && until.plus == Duration{} &&
                               hold_with(until.conditions, begins->conditions);
  if (!too_early && !same_entry && !same_conditions) return;
  const auto known = [](const KnownTimes::When& when, const Anchor& anchor) {
    return when.exact && !anchor.at ? " (" + words_of(when.earliest) + ")" : std::string();
  };
  say(node.place,
      label_of(node) + in_quotes(until.text) + (ends ? known(*ends, until) : "") +
          " does not come after the beginning, " +
          (begins == nullptr ? "the start of the run" : in_quotes(begins->text) + known(from, *begins)));
}

void Sense::check_length(const Node* node, const Expectation& expectation, const KnownTimes::When& from,
                         Duration length) {
  if (node == nullptr || from.earliest + length <= spec_.ends) return;
  const std::string since = expectation.from ? in_quotes(expectation.from->text) : "the start of the run";
  say(node->place, label_of(*node) + in_quotes(node->text) + " after " + since + " is " +
                       (from.exact ? "at " : "not before ") + words_of(from.earliest + length) +
                       after_the_end());
}

void Sense::check_lengths(const Node& node, const Expectation& expectation, const KnownTimes::When& from) {
  const auto* within = node.find("within");
  // What passes before its end may well have come by the end of the run, and `until` may come before both.
  if (within != nullptr && expectation.within && !expectation.until &&
      rehearsal::met_at_end_only(expectation)) {
    check_length(within, expectation, from, *expectation.within);
    if (from.earliest + *expectation.within > spec_.ends) return;  // one line is enough
  }
  check_length(node.find("not_before"), expectation, from, expectation.not_before);
  if (from.earliest + expectation.not_before > spec_.ends || !expectation.holds_for) return;
  const Duration length = expectation.not_before + *expectation.holds_for;
  check_length(node.find("for"), expectation, from, length);
  if (from.earliest + length <= spec_.ends) check_room(node.find("for"), expectation, from, length);
}

/// What has to last so long, its last instant included, has to have room for it before `until`.
void Sense::check_room(const Node* node, const Expectation& expectation, const KnownTimes::When& from,
                       Duration length) {
  if (node == nullptr || !expectation.until) return;
  const auto& until = *expectation.until;
  const auto ends = times_.end_of(expectation, from);
  std::optional<Duration> room;
  if (ends && ends->exact) room = ends->earliest - from.earliest;
  if (expectation.from && same_thing(until, *expectation.from) && until.plus > expectation.from->plus)
    room = until.plus - expectation.from->plus;
  if (!room || length < *room) return;
  say(node->place, label_of(*node) + in_quotes(node->text) + " has no room before " + in_quotes(until.text) +
                       ", which comes " + words_of(*room) +
                       " after the beginning: that instant is outside the interval");
}

SimTime last_of(const Expectation& expectation, const KnownTimes& times, const KnownTimes::When& from,
                SimTime ends) {
  SimTime last = ends;
  if (expectation.within && from.exact) last = std::min(last, from.earliest + *expectation.within);
  const auto until = expectation.until ? times.end_of(expectation, from) : std::nullopt;
  return until && until->exact ? std::min(last, until->earliest - Duration{1}) : last;
}

/// `write_rate: at_least` looks at whole windows only.
void Sense::check_window(const Node& node, const Expectation& expectation, const KnownTimes::When& from) {
  const auto* rate = node.find("write_rate");
  if (rate == nullptr || !expectation.conduct || !expectation.conduct->condition) return;
  const auto& conduct = *expectation.conduct;
  if (conduct.condition->comparator == Comparator::at_most) return;
  Duration longest = spec_.ends - from.earliest;
  if (expectation.within) longest = std::min(longest, *expectation.within);
  if (const auto until = expectation.until ? times_.end_of(expectation, from) : std::nullopt;
      until && until->exact)
    longest = std::min(longest, Duration{until->earliest - from.earliest});
  if (conduct.window <= longest) return;
  say(rate->entries.front().header, label_of(*rate) + "so many in any " + words_of(conduct.window) +
                                        " need an interval as long, this one lasts " + words_of(longest) +
                                        " at most");
}

}  // namespace emberline::io

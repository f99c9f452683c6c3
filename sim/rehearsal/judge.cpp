#include "sim/rehearsal/judge.hpp"

#include <algorithm>
#include <utility>

#include "sim/base/duration_text.hpp"
#include "sim/rehearsal/condition.hpp"

namespace emberline::rehearsal {
namespace {

using Kind = Expectation::Kind;

std::string words_of(SimTime at) { return format_duration(at.time_since_epoch()); }
std::string words_of(Duration duration) { return format_duration(duration); }

std::string conditions_of(const Expectation& expectation) {
  std::string text;
  for (const auto& condition : expectation.conditions)
    text += (text.empty() ? "" : " and ") + describe(condition);
  return text;
}

/// "after cut field (20 s)", "from 10 s", "from the start".
std::string since(const Expectation& expectation, std::optional<SimTime> from) {
  if (!expectation.from) return "from the start";
  if (expectation.from->at || !from) return "from " + expectation.from->text;
  return "after " + expectation.from->text + " (" + words_of(*from) + ")";
}

std::string not_judged(const std::string& why) { return "could not be judged: " + why; }

}  // namespace

std::optional<SimTime> time_of(const Anchor& anchor, const ScenarioSpec& scenario) {
  if (anchor.at) return anchor.at;
  int left = anchor.nth;
  for (const auto& entry : scenario.timeline) {
    if (!entry.action || entry.action->kind->word != anchor.action_word ||
        entry.action->target != anchor.action_target)
      continue;
    if (--left > 0) continue;
    const auto at = *entry.when.at + entry.action->kind->anchor_after;
    return at <= scenario.ends ? std::optional(at) : std::nullopt;
  }
  return std::nullopt;
}

Judge::Judge(const ScenarioSpec& scenario, const bench::Bench& bench) : bench_(bench), ends_(scenario.ends) {
  for (const auto& expectation : scenario.expectations) {
    Case item{&expectation, SimTime{}, {}, false, {}, true, {}};
    if (expectation.from) item.from = time_of(*expectation.from, scenario);
    if (expectation.until) {
      item.until = time_of(*expectation.until, scenario);
      item.until_missing = !item.until;
    }
    if (item.from && expectation.within) item.deadline = *item.from + *expectation.within;
    if (item.from && item.until && *item.until <= *item.from) {
      decide(item, Outcome::Result::not_judged, *item.from,
             not_judged("its end '" + expectation.until->text + "' does not come after its start"));
    }
    cases_.push_back(std::move(item));
  }
}

std::optional<SimTime> Judge::next() const {
  std::optional<SimTime> first;
  const auto consider = [&](std::optional<SimTime> at) {
    if (at && *at > looked_at_ && (!first || *at < *first)) first = at;
  };
  for (const auto& item : cases_) {
    if (item.outcome) continue;
    consider(item.from);
    consider(item.until);
    consider(item.deadline);
  }
  return first;
}

void Judge::run(SimTime now) {
  looked_at_ = now;
  for (auto& item : cases_)
    if (!item.outcome && item.from && !item.until_missing) look(item, now);
}

void Judge::look(Case& item, SimTime now) {
  if (item.expectation->kind == Kind::conduct) {
    if (item.until && now >= *item.until) close_interval(item, now);
    return;
  }
  // Before its anchor only an expectation that waits for a change has to know how things stand.
  if (now < *item.from && !item.expectation->becomes) return;
  const bool all = all_hold(*item.expectation, now);
  if (now >= *item.from) {
    if (item.until && now >= *item.until) {
      close_interval(item, now);
    } else if (item.expectation->kind == Kind::within) {
      look_within(item, now, all);
    } else {
      look_interval(item, now, all);
    }
  }
  item.held_before = all;
}

void Judge::look_within(Case& item, SimTime now, bool all) {
  const auto& expectation = *item.expectation;
  const auto waited = now - *item.from;
  const bool counts = all && (!expectation.becomes || !item.held_before);
  if (counts && item.deadline && now > *item.deadline) {
    decide(item, Outcome::Result::failed, now,
           "expected " + conditions_of(expectation) + " within " + words_of(*expectation.within) + " " +
               since(expectation, item.from) + "; it came after " + words_of(waited) + ", too late");
  } else if (counts && waited < expectation.not_before) {
    decide(item, Outcome::Result::failed, now,
           "expected " + conditions_of(expectation) + " not before " + words_of(expectation.not_before) +
               " " + since(expectation, item.from) + "; it came after " + words_of(waited) + ", too early");
  } else if (counts) {
    decide(item, Outcome::Result::passed, now,
           conditions_of(expectation) + ", " + words_of(waited) + " " + since(expectation, item.from));
  } else if (item.deadline && now >= *item.deadline) {
    const std::string what = all ? "it was so all along and never became so"
                                 : "when the time was up: " + values_of(expectation, now);
    decide(item, Outcome::Result::failed, now,
           "expected " + conditions_of(expectation) + " within " + words_of(*expectation.within) + " " +
               since(expectation, item.from) + "; " + what);
  }
}

void Judge::look_interval(Case& item, SimTime now, bool all) {
  const auto& expectation = *item.expectation;
  const bool never = expectation.kind == Kind::never;
  if (all != never) return;
  decide(item, Outcome::Result::failed, now,
         std::string("expected ") + (never ? "never " : "always ") + conditions_of(expectation) + " " +
             since(expectation, item.from) + "; at " + words_of(now) + ": " + values_of(expectation, now));
}

void Judge::close_interval(Case& item, SimTime now) {
  const auto& expectation = *item.expectation;
  const std::string until = "until " + expectation.until->text;
  switch (expectation.kind) {
    case Kind::conduct:
      decide(item, Outcome::Result::not_judged, now,
             not_judged("nobody wrote " + expectation.conduct->name + " " + since(expectation, item.from) +
                        " " + until));
      break;
    case Kind::within:
      decide(item, Outcome::Result::failed, now,
             "expected " + conditions_of(expectation) + " " + since(expectation, item.from) + " and " +
                 until + "; it did not come: " + values_of(expectation, now));
      break;
    default:
      decide(item, Outcome::Result::passed, now,
             std::string(expectation.kind == Kind::never ? "never " : "always ") +
                 conditions_of(expectation) + " " + since(expectation, item.from) + " " + until);
      break;
  }
}

void Judge::write_seen(const unit::WriteSeen& write) {
  for (auto& item : cases_) {
    const auto& expectation = *item.expectation;
    if (item.outcome || expectation.kind != Kind::conduct || !item.from || item.until_missing) continue;
    if (write.at < *item.from || (item.until && write.at >= *item.until)) continue;
    const auto& condition = *expectation.conduct->condition;
    const auto& unit = bench_.spec().units[condition.signal.index].unit;
    if (condition.signal.sub != static_cast<std::uint16_t>(write.point) || unit.name != write.unit) continue;
    const std::string asked = bench::describe_value(condition.info, write.asked) +
                              (write.accepted ? "" : " (refused)") + " by " + std::string(write.master) +
                              " at " + words_of(write.at);
    const std::string expected =
        "first write of " + condition.name + " " + since(expectation, item.from) + " ";
    const bool late = item.deadline && write.at > *item.deadline;
    if (holds(condition, write.asked) && !late) {
      decide(item, Outcome::Result::passed, write.at, expected + "was " + asked);
      continue;
    }
    const auto hint = scaling_hint(condition, write.asked);
    decide(item, Outcome::Result::failed, write.at,
           "expected the " + expected + "to be " + describe_expected(condition) +
               (expectation.within ? " within " + words_of(*expectation.within) : "") + "; it was " + asked +
               (hint && !late ? ", " + *hint : "") + (late ? ", too late" : ""));
  }
}

Outcome Judge::end_of(Case& item, SimTime now) const {
  const auto& expectation = *item.expectation;
  Outcome outcome{expectation.name, Outcome::Result::not_judged, {}, now, {}};
  // Stopped by hand half way: what is still open may yet have gone either way.
  const bool stopped_early = now < ends_;
  if (!item.from) {
    outcome.sentence =
        not_judged("its anchor '" + expectation.from->text + "' did not come before the run ended");
  } else if (item.until_missing) {
    outcome.sentence =
        not_judged("its end '" + expectation.until->text + "' did not come before the run ended");
  } else if (stopped_early || *item.from > now || (item.until && *item.until > now) ||
             (item.deadline && *item.deadline > now)) {
    outcome.sentence = not_judged("the run ended first, at " + words_of(now));
  } else if (expectation.kind == Kind::conduct) {
    outcome.sentence =
        not_judged("nobody wrote " + expectation.conduct->name + " " + since(expectation, item.from));
  } else if (expectation.kind == Kind::within) {
    outcome.result = Outcome::Result::failed;
    outcome.sentence = "expected " + conditions_of(expectation) + " " + since(expectation, item.from) +
                       "; it did not come until the end at " + words_of(now) + ": " +
                       values_of(expectation, now);
  } else {
    outcome.result = Outcome::Result::passed;
    outcome.sentence = std::string(expectation.kind == Kind::never ? "never " : "always ") +
                       conditions_of(expectation) + " " + since(expectation, item.from) + " to the end";
  }
  return outcome;
}

std::vector<Outcome> Judge::finish(SimTime now) {
  std::vector<Outcome> outcomes;
  for (auto& item : cases_) outcomes.push_back(item.outcome ? *item.outcome : end_of(item, now));
  return outcomes;
}

void Judge::decide(Case& item, Outcome::Result result, SimTime at, std::string sentence) {
  item.outcome = Outcome{item.expectation->name, result, std::move(sentence), at, {}};
}

bool Judge::all_hold(const Expectation& expectation, SimTime now) const {
  return std::all_of(
      expectation.conditions.begin(), expectation.conditions.end(),
      [&](const Condition& condition) { return holds(condition, bench_.value(condition.signal, now)); });
}

std::string Judge::values_of(const Expectation& expectation, SimTime now) const {
  std::string text;
  for (const auto& condition : expectation.conditions) {
    text += (text.empty() ? "" : ", ") + condition.name + " was " +
            bench::describe_value(condition.info, bench_.value(condition.signal, now));
  }
  return text;
}

}  // namespace emberline::rehearsal

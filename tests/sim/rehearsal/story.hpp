#pragma once

#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "sim/rehearsal/condition.hpp"
#include "sim/rehearsal/rehearsal.hpp"
#include "tests/support/heated_bench.hpp"

namespace emberline::testing {

using namespace std::chrono_literals;
using rehearsal::Condition;
using rehearsal::Expectation;
using rehearsal::Outcome;
using Kind = Expectation::Kind;
using Comparator = Condition::Comparator;

/// A scenario without masters on a bench whose watchdog is off and whose setpoint acts at once.
inline rehearsal::ScenarioSpec scenario(Duration ends) {
  rehearsal::ScenarioSpec spec;
  spec.title = "Test";
  spec.bench = heated_bench();
  spec.bench.units[0].unit.comms_loss.timeout = Duration{};
  spec.bench.units[0].unit.firing.ramp = Duration{};
  spec.ends = SimTime{ends};
  return spec;
}

inline void add_entry(rehearsal::ScenarioSpec& spec, Duration at, const char* text) {
  const auto action = faults::parse_action(spec.bench, text);
  REQUIRE(action);
  rehearsal::TimelineEntry entry;
  entry.when.at = SimTime{at};
  entry.action = *action;
  spec.timeline.push_back(entry);
}

inline rehearsal::Anchor at_time(Duration at) {
  rehearsal::Anchor anchor;
  anchor.at = SimTime{at};
  anchor.text = format_quantity(to_seconds(at), Dimension::time);
  return anchor;
}

inline rehearsal::Anchor on(const rehearsal::ScenarioSpec& spec, const char* text, int nth = 1) {
  const auto action = faults::parse_action(spec.bench, text);
  REQUIRE(action);
  rehearsal::Anchor anchor;
  anchor.action_word = action->kind->word;
  anchor.action_target = action->target;
  anchor.text = text;
  anchor.nth = nth;
  return anchor;
}

inline Condition that(const rehearsal::ScenarioSpec& spec, const char* name, Comparator comparator, double a,
                      double b = 0) {
  const auto id = bench::find_signal(spec.bench, name);
  REQUIRE_MESSAGE(id, name);
  return {name, *id, bench::signal_info(spec.bench, *id), comparator, a, b};
}

inline rehearsal::Conduct first_write(const rehearsal::Condition& condition) {
  rehearsal::Conduct conduct;
  conduct.name = condition.name;
  conduct.index = condition.signal.index;
  conduct.point = static_cast<registers::Point>(condition.signal.sub);
  conduct.condition = condition;
  return conduct;
}

/// Writes the setpoint at given times, as a master over the field line would.
class Writer final : public bench::EventSource {
 public:
  Writer(bench::Bench& bench, std::vector<std::pair<Duration, int>> writes)
      : bench_(bench), writes_(std::move(writes)) {}
  [[nodiscard]] std::optional<SimTime> next() const override {
    return done_ < writes_.size() ? std::optional(SimTime{writes_[done_].first}) : std::nullopt;
  }
  void run(SimTime now) override {
    const auto tenths = static_cast<std::uint16_t>(writes_[done_++].second);
    const modbus::Bytes pdu{0x06, 0, 0, static_cast<std::uint8_t>(tenths >> 8),
                            static_cast<std::uint8_t>(tenths)};
    bench_.request(0, 1, pdu, now, "plc");
  }

 private:
  bench::Bench& bench_;
  std::vector<std::pair<Duration, int>> writes_;
  std::size_t done_ = 0;
};

/// How the expectations of a story end, in their order; the setpoint is written at these times, in tenths of
/// a per cent. Runs to `stop` when that is before the end.
inline std::vector<Outcome> judge_all(const rehearsal::ScenarioSpec& spec,
                                      std::vector<std::pair<Duration, int>> writes = {},
                                      std::optional<Duration> stop = {}) {
  rehearsal::Rehearsal rehearsal(spec, 1, {});
  Writer writer(rehearsal.bench(), std::move(writes));
  rehearsal.loop().add(bench::Rank::frames, writer);
  rehearsal.loop().run_through(stop ? SimTime{*stop} : spec.ends);
  return rehearsal.verdict(0).outcomes;
}

/// The same of the only one.
inline Outcome judged(const rehearsal::ScenarioSpec& spec, std::vector<std::pair<Duration, int>> writes = {},
                      std::optional<Duration> stop = {}) {
  const auto outcomes = judge_all(spec, std::move(writes), stop);
  REQUIRE(outcomes.size() == 1);
  return outcomes[0];
}

/// Cuts the line `field`, and restores it, at these times in turn: field.state is `cut` in between.
inline void toggle_field(rehearsal::ScenarioSpec& spec, const std::vector<Duration>& times) {
  for (std::size_t i = 0; i < times.size(); ++i)
    add_entry(spec, times[i], i % 2 == 0 ? "cut field" : "restore field");
}
inline Condition field_is_cut(const rehearsal::ScenarioSpec& spec) {
  return that(spec, "field.state", Comparator::equals, 1);
}

inline rehearsal::Anchor when(std::vector<Condition> conditions, int nth = 1) {
  rehearsal::Anchor anchor;
  anchor.text = rehearsal::describe(conditions.front());
  anchor.conditions = std::move(conditions);
  anchor.nth = nth;
  return anchor;
}
inline rehearsal::Anchor entry(std::size_t number) {
  rehearsal::Anchor anchor;
  anchor.entry = number;
  anchor.text = "entry";
  return anchor;
}
inline rehearsal::Anchor met(const char* name) {
  rehearsal::Anchor anchor;
  anchor.expectation = name;
  anchor.text = name;
  return anchor;
}
inline rehearsal::Anchor plus(rehearsal::Anchor anchor, Duration later) {
  anchor.plus = later;
  return anchor;
}

/// What a sentence holds; the whole sentence if it does not.
inline void check_says(const Outcome& outcome, std::string_view part) {
  CHECK_MESSAGE(outcome.sentence.find(part) != std::string::npos, outcome.sentence);
}

inline constexpr auto kPassed = Outcome::Result::passed;
inline constexpr auto kFailed = Outcome::Result::failed;
inline constexpr auto kNotJudged = Outcome::Result::not_judged;

}  // namespace emberline::testing

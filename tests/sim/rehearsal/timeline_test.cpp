#include <string>

#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;
using rehearsal::Rehearsal;

namespace {

/// An entry that does this at that moment.
void add(rehearsal::ScenarioSpec& spec, rehearsal::Anchor moment, const char* text) {
  add_entry(spec, 0s, text);
  spec.timeline.back().when = std::move(moment);
}

/// "cut field @ 10 s; ": what happened, in order; "(by hand)" behind what a human did.
std::string told(const rehearsal::Verdict& verdict) {
  std::string text;
  for (const auto& mark : verdict.marks)
    text += mark.text + " @ " + format_quantity(to_seconds(mark.at), Dimension::time) +
            (mark.by_human ? " (by hand)" : "") + "; ";
  return text;
}

std::string happened(const rehearsal::ScenarioSpec& spec) {
  Rehearsal rehearsal(spec, 1, {});
  rehearsal.loop().run_through(spec.ends);
  return told(rehearsal.verdict(0));
}

std::vector<std::string> notes(const rehearsal::Verdict& verdict, std::string_view subject) {
  std::vector<std::string> found;
  for (const auto& entry : verdict.journal)
    if (entry.subject == subject)
      found.push_back(format_quantity(to_seconds(entry.at), Dimension::time) + ": " + entry.sentence);
  return found;
}

}  // namespace

TEST_CASE("entries of one instant come in another order than in the file") {
  auto spec = scenario(30s);
  add_entry(spec, 20s, "restore field");
  add_entry(spec, 10s, "cut field");
  add_entry(spec, 10s, "cut ethernet");
  add(spec, on(spec, "cut ethernet"), "restore ethernet");  // sets off at the instant of another
  add_entry(spec, 10s, "open heater.terminal.enable");
  CHECK(happened(spec) ==
        "cut field @ 10 s; cut ethernet @ 10 s; restore ethernet @ 10 s; open heater.terminal.enable @ 10 s; "
        "restore field @ 20 s; ");
}

TEST_CASE("when: an entry waits from the start, misses what holds already, or acts an instant late") {
  struct Row {
    const char* what;
    std::vector<Duration> cut_and_restored;
    Duration plus;
    const char* happens;  ///< the entry, when; empty: never
  };
  // The entry before it in the file is at 10 s.
  const Row rows[] = {
      {"comes later", {15s}, 0s, "15 s"},
      {"at the instant of the entry before", {10s}, 0s, "10 s"},
      {"holds already", {5s}, 0s, "10 s"},
      {"held before, and no more", {5s, 8s}, 0s, ""},
      {"held before, and again", {5s, 8s, 12s}, 0s, "12 s"},
      {"plus, even when it is over by then", {15s, 16s}, 5s, "20 s"},
      {"with the last instant of the run", {30s}, 0s, "30 s"},
      {"beyond the run", {28s}, 5s, ""},
      {"never", {}, 0s, ""},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(30s);
    toggle_field(spec, row.cut_and_restored);
    add_entry(spec, 10s, "open heater.terminal.enable");
    add(spec, plus(when({field_is_cut(spec)}), row.plus), "cut ethernet");
    const auto all = happened(spec);
    const bool ever = row.happens != std::string();
    CHECK_MESSAGE((all.find("cut ethernet") != std::string::npos) == ever, all);
    CHECK_MESSAGE(all.find("cut ethernet @ " + std::string(row.happens)) != (ever ? std::string::npos : 0),
                  all);
  }
}

TEST_CASE("when: the first entry of a file waits for nothing but its condition") {
  auto spec = scenario(30s);
  add(spec, when({that(spec, "field.state", Comparator::equals, 0)}), "cut ethernet");
  add(spec, when({that(spec, "ethernet.state", Comparator::equals, 1)}), "restore ethernet");
  add(spec, when({that(spec, "ethernet.state", Comparator::equals, 1)}), "cut field");
  CHECK(happened(spec) == "cut ethernet @ 0 s; restore ethernet @ 0 s; ");
}

TEST_CASE(
    "what a condition sets off acts after the instant is judged, or never at the last instant of a run") {
  for (const Duration at : {Duration{10s}, Duration{30s}}) {
    auto spec = scenario(30s);
    add_entry(spec, at, "cut field");
    add(spec, when({field_is_cut(spec)}), "cut ethernet");
    Expectation until;
    until.kind = Kind::never;
    until.until = on(spec, "cut ethernet");
    until.conditions = {field_is_cut(spec)};
    Expectation within;
    within.from = on(spec, "cut field");
    within.within = 0s;
    within.conditions = {that(spec, "ethernet.state", Comparator::equals, 1)};
    spec.expectations = {until, within};
    for (const auto& outcome : judge_all(spec)) CHECK_MESSAGE(outcome.result == kPassed, outcome.sentence);
  }
}

TEST_CASE("after: an entry does not follow another, its closing edge, its name or an expectation") {
  auto spec = scenario(30s);
  add_entry(spec, 10s, "cycle heater.terminal.enable");
  add(spec, plus(on(spec, "cycle heater.terminal.enable"), 2s), "cut field");
  add(spec, plus(entry(1), 1s), "restore field");
  Expectation restored;
  restored.name = "restored";
  restored.from = on(spec, "cut field");
  restored.conditions = {that(spec, "field.state", Comparator::equals, 0)};
  spec.expectations = {restored};
  add(spec, plus(met("restored"), 3s), "cut ethernet");
  add(spec, when({field_is_cut(spec)}, 2), "restore ethernet");
  spec.timeline.back().from_start = true;
  add_entry(spec, 20s, "cut field");
  CHECK(happened(spec) ==
        "cycle heater.terminal.enable @ 10 s; cut field @ 13 s; restore field @ 14 s; cut ethernet @ 17 s; "
        "cut field @ 20 s; restore ethernet @ 20 s; ");
}

TEST_CASE("an entry whose moment never came leaves no trace, or one that came too late to be seen does") {
  auto spec = scenario(30s);
  add(spec, when({field_is_cut(spec)}), "cut ethernet");
  add(spec, plus(on(spec, "cut ethernet"), 2s), "restore ethernet");
  spec.timeline.back().when.text = "cut ethernet + 2 s";
  add_entry(spec, 40s, "cut field");
  Rehearsal rehearsal(spec, 1, {});
  rehearsal.loop().run_through(spec.ends);
  const auto verdict = rehearsal.verdict(0);
  CHECK(verdict.marks.empty());
  CHECK(notes(verdict, "timeline") ==
        std::vector<std::string>{"30 s: never happened: cut ethernet (when field.state cut)",
                                 "30 s: never happened: restore ethernet (after cut ethernet + 2 s)"});
}

TEST_CASE("by hand: the bench does what a human is asked for, or counts from another moment than the Enter") {
  auto spec = scenario(60s);
  add_entry(spec, 10s, "cut field");
  spec.timeline.back().ask = "Pull the field cable";
  add(spec, plus(on(spec, "cut field"), 5s), "cut ethernet");
  add(spec, when({that(spec, "ethernet.state", Comparator::equals, 1)}), "restore ethernet");
  spec.timeline.back().ask = "Put it back";
  add(spec, at_time(30s), "cycle heater.terminal.enable");
  spec.timeline.back().ask = "Turn the key";
  add(spec, on(spec, "cycle heater.terminal.enable"), "power_off heater");
  Expectation never_cut;
  never_cut.name = "the bench leaves the cable alone";
  never_cut.kind = Kind::never;
  never_cut.conditions = {field_is_cut(spec)};
  Expectation in_time;
  in_time.from = on(spec, "cut field");
  in_time.within = 5s;
  in_time.conditions = {that(spec, "ethernet.state", Comparator::equals, 1)};
  spec.expectations = {never_cut, in_time};

  std::vector<std::size_t> asked;
  Rehearsal rehearsal(spec, 1, {});
  rehearsal.leave_to_human([&](std::size_t entry) { asked.push_back(entry); });
  auto& loop = rehearsal.loop();
  rehearsal.done_by_human(0, SimTime{});  // nobody asked for it yet
  loop.run_through(SimTime{12s});
  CHECK(asked == std::vector<std::size_t>{0});
  rehearsal.done_by_human(0, loop.now());
  rehearsal.done_by_human(0, loop.now());  // twice is once
  rehearsal.done_by_human(7, loop.now());  // and there is no such entry
  loop.run_through(SimTime{40s});
  CHECK(asked == std::vector<std::size_t>{0, 2, 3});
  rehearsal.done_by_human(3, loop.now());
  loop.run_through(spec.ends);
  const auto verdict = rehearsal.verdict(0);
  CHECK(told(verdict) ==
        "cut field @ 12 s (by hand); cut ethernet @ 17 s; cycle heater.terminal.enable @ 40 s (by hand); "
        "power_off heater @ 40 s; ");  // not the second later that the bench's own cycle takes
  CHECK(notes(verdict, "by hand") ==
        std::vector<std::string>{"10 s: asked for: Pull the field cable", "12 s: done: Pull the field cable",
                                 "17 s: asked for: Put it back", "30 s: asked for: Turn the key",
                                 "40 s: done: Turn the key",
                                 "60 s: asked for, and never confirmed: Put it back"});
  for (const auto& outcome : verdict.outcomes) CHECK_MESSAGE(outcome.result == kPassed, outcome.sentence);
}

TEST_CASE("without a human the bench waits for one, or leaves out what is only asked for") {
  auto spec = scenario(60s);
  add_entry(spec, 10s, "cut field");
  spec.timeline.back().ask = "Pull the field cable";
  rehearsal::TimelineEntry look;
  look.when = plus(on(spec, "cut field"), 1s);
  look.ask = "Look at the lamp";
  spec.timeline.push_back(look);
  add(spec, entry(1), "restore field");
  Rehearsal rehearsal(spec, 1, {});
  rehearsal.loop().run_through(spec.ends);
  const auto verdict = rehearsal.verdict(0);
  CHECK(told(verdict) == "cut field @ 10 s; Look at the lamp @ 11 s; restore field @ 11 s; ");
  CHECK(notes(verdict, "by hand") ==
        std::vector<std::string>{"11 s: nobody is there to be asked for: Look at the lamp"});
}

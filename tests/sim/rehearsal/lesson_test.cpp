#include "sim/rehearsal/lesson.hpp"

#include <string>

#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;
using rehearsal::Lesson;
using rehearsal::LessonStep;
using Phase = Lesson::Phase;

namespace {

LessonStep reading(const char* title) {
  LessonStep step;
  step.title = title;
  step.say = "Something.";
  return step;
}

LessonStep asking(const char* title, std::size_t right) {
  auto step = reading(title);
  step.question = "What will it do?";
  step.answers = {"this", "that", "neither"};
  step.right = right;
  step.because = "That is how it is.";
  return step;
}

LessonStep watching(const char* title) {
  auto step = reading(title);
  step.watch = Duration{2s};
  step.button = "Watch";
  return step;
}

std::string why_not(Lesson& lesson) {
  const auto next = lesson.next();
  return next ? "went on" : next.error();
}

/// What the trainer's word asked of the bench: "", "step 1", "verdict".
std::string asked(Lesson& lesson) {
  const auto next = lesson.next();
  REQUIRE_MESSAGE(next, next.error());
  if (next->step) return "step " + std::to_string(*next->step);
  return next->judge ? "verdict" : "";
}

bench::Journal::Entry note(const char* sentence) {
  bench::Journal::Entry entry;
  entry.at = SimTime{1s};
  entry.subject = "heater";
  entry.sentence = sentence;
  return entry;
}

/// A listener that moves a lesson, as a panel does.
struct Class final : rehearsal::LessonListener {
  explicit Class(const std::vector<LessonStep>& steps) : lesson(steps) {}
  void happened(std::size_t step, const bench::Journal::Entry& entry) override {
    lesson.happened(step, entry);
  }
  void came(std::size_t step) override { lesson.came(step); }
  void ran_out(std::size_t step, SimTime at) override { lesson.ran_out(step, at); }
  void judged(std::vector<Outcome> all) override { outcomes = std::move(all); }
  Lesson lesson;
  std::vector<Outcome> outcomes;
};

/// A lesson on a bench, moved by hand.
struct Taught {
  explicit Taught(rehearsal::ScenarioSpec scenario)
      : spec(rehearsal::as_lesson(std::move(scenario))), pupils(spec.lesson), rehearsal(spec, 1, {}) {
    rehearsal.open_as_lesson(pupils);
  }
  void run(Duration length) { rehearsal.loop().run_through(rehearsal.loop().now() + length); }
  void next() {
    const auto order = pupils.lesson.next();
    REQUIRE_MESSAGE(order, order.error());
    if (order->step) rehearsal.begin_step(*order->step, rehearsal.loop().now());
    if (order->judge) rehearsal.judge_lesson();
  }
  [[nodiscard]] std::string happened() const {
    std::string text;
    for (const auto& entry : pupils.lesson.happened()) text += entry.subject + ": " + entry.sentence + "; ";
    return text;
  }
  rehearsal::ScenarioSpec spec;
  Class pupils;
  rehearsal::Rehearsal rehearsal;
};

void add_named(rehearsal::ScenarioSpec& spec, Duration at, const char* text, const char* name) {
  add_entry(spec, at, text);
  spec.timeline.back().name = name;
}

}  // namespace

TEST_CASE("a step without a question asks for a prediction, or one with a question goes on without") {
  const std::vector<LessonStep> steps{reading("a"), asking("b", 1), watching("c")};
  Lesson lesson(steps);
  CHECK(lesson.phase() == Phase::read);
  CHECK(lesson.button() == "Next step");
  CHECK_FALSE(lesson.predict(1));
  CHECK(asked(lesson).empty());
  CHECK(lesson.place() == 1);
  CHECK(lesson.phase() == Phase::predict);
  CHECK_FALSE(lesson.button());
  CHECK(why_not(lesson) == "first a prediction: choose one of the answers, then it goes on");
  CHECK(lesson.predict(1));
  CHECK(lesson.predict(2));  // thinks again
  CHECK(lesson.button() == "Show the answer");
  CHECK_FALSE(lesson.revealed(1));
  CHECK(lesson.score().asked == 0);
  CHECK(asked(lesson).empty());  // nothing to do or to watch: it is told at once
  CHECK(lesson.phase() == Phase::told);
  CHECK(lesson.revealed(1));
  CHECK(lesson.chosen(1) == 1);
  CHECK(lesson.score().right == 1);
  CHECK(lesson.score().asked == 1);
}

TEST_CASE("an answer that is none is taken") {
  const std::vector<LessonStep> steps{asking("a", 0)};
  Lesson lesson(steps);
  for (const std::int64_t answer : {std::int64_t{0}, std::int64_t{4}, std::int64_t{-1}}) {
    const auto taken = lesson.predict(answer);
    REQUIRE_FALSE(taken);
    CHECK(taken.error() == "answer: expected a whole number from 1 to 3, found " + std::to_string(answer));
  }
  CHECK_FALSE(lesson.chosen(0));
}

TEST_CASE("a watched step is left by the trainer, or by what another step saw") {
  const std::vector<LessonStep> steps{watching("a"), watching("b")};
  Lesson lesson(steps);
  CHECK(lesson.button() == "Watch");
  CHECK(asked(lesson) == "step 0");
  CHECK(lesson.phase() == Phase::watch);
  CHECK(lesson.watching() == "for 2 s");
  CHECK_FALSE(lesson.button());
  CHECK(why_not(lesson) == "the bench is being watched, for 2 s: then it goes on");
  lesson.happened(1, note("not of this step"));
  lesson.came(1);
  CHECK(lesson.phase() == Phase::watch);
  lesson.happened(0, note("seen"));
  lesson.came(0);
  CHECK(lesson.phase() == Phase::told);
  lesson.happened(0, note("too late"));
  REQUIRE(lesson.happened().size() == 1);
  CHECK(lesson.happened()[0].sentence == "seen");
  CHECK(asked(lesson).empty());
  CHECK(lesson.happened().empty());  // a new step begins with nothing
}

TEST_CASE("the verdict is asked for before the last step is through, or twice") {
  const std::vector<LessonStep> steps{reading("a"), watching("b")};
  Lesson lesson(steps);
  CHECK(asked(lesson).empty());
  CHECK(asked(lesson) == "step 1");
  CHECK_FALSE(lesson.done());
  lesson.came(1);
  CHECK(lesson.button() == "Finish");
  CHECK(asked(lesson) == "verdict");
  CHECK(lesson.done());
  CHECK_FALSE(lesson.button());
  CHECK(why_not(lesson) == "the lesson is over: it can only be started over");
}

TEST_CASE("score: a wrong prediction counts as right, or one that was not told counts at all") {
  const std::vector<LessonStep> steps{asking("a", 0), asking("b", 1), asking("c", 2)};
  Lesson lesson(steps);
  REQUIRE(lesson.predict(1));
  CHECK(asked(lesson).empty());
  CHECK(asked(lesson).empty());
  REQUIRE(lesson.predict(1));
  CHECK(asked(lesson).empty());
  CHECK(asked(lesson).empty());
  REQUIRE(lesson.predict(3));  // right, and not told yet
  CHECK(lesson.score().right == 1);
  CHECK(lesson.score().asked == 2);
}

TEST_CASE("an entry that a step names happens at its time, or what hangs on it is not judged as ever") {
  auto spec = scenario(60s);
  add_named(spec, 20s, "cut field", "pulled");
  add_entry(spec, 10s, "cut ethernet");  // no step names it
  Expectation in_time;
  in_time.name = "ethernet back in time";
  in_time.from = entry(0);
  in_time.within = 5s;
  in_time.conditions = {that(spec, "field.state", Comparator::equals, 1)};
  Expectation stays;
  stays.name = "stays cut";
  stays.kind = Kind::always;
  stays.from = on(spec, "cut field");
  stays.conditions = {field_is_cut(spec)};
  spec.expectations = {in_time, stays};
  auto step = reading("The cable");
  step.does = {0};
  step.until = when({field_is_cut(spec)});
  spec.lesson = {step};

  Taught taught(spec);
  taught.run(90s);  // beyond the end that the scenario has as a rehearsal
  auto& bench = taught.rehearsal.bench();
  const auto cut = [&](const char* line) {
    return bench.value(*bench::find_signal(taught.spec.bench, line), taught.rehearsal.loop().now()) == 1;
  };
  CHECK(cut("ethernet.state"));
  CHECK_FALSE(cut("field.state"));
  taught.next();
  taught.run(0s);
  CHECK(cut("field.state"));
  CHECK(taught.pupils.lesson.phase() == Phase::told);
  CHECK_MESSAGE(taught.happened().find("field: ") == 0, taught.happened());
  taught.run(5s);
  CHECK(taught.pupils.outcomes.empty());
  taught.next();
  taught.run(0s);
  REQUIRE(taught.pupils.outcomes.size() == 2);
  for (const auto& outcome : taught.pupils.outcomes)
    CHECK_MESSAGE(outcome.result == kPassed, outcome.sentence);
  check_says(taught.pupils.outcomes[0], "90 s");
  taught.run(60s);  // the bench goes on, and nobody judges it
  CHECK(taught.pupils.outcomes.size() == 2);
}

TEST_CASE("what hangs on an entry that never happened passes when the lesson ends") {
  auto spec = scenario(60s);
  add_named(spec, 20s, "cut field", "pulled");
  Expectation open;
  open.name = "open";
  open.from = on(spec, "cut field");
  open.conditions = {field_is_cut(spec)};
  spec.expectations = {open};
  auto skipped = reading("The cable");
  skipped.does = {0};
  spec.lesson = {reading("a"), skipped};
  Taught taught(spec);
  taught.rehearsal.judge_lesson();
  taught.run(1s);
  REQUIRE(taught.pupils.outcomes.size() == 1);
  CHECK(taught.pupils.outcomes[0].result == kNotJudged);
}

TEST_CASE("what ends an entry counts from its time in the file instead of from when it happened") {
  auto spec = scenario(60s);
  add_named(spec, 20s, "cut field", "pulled");
  add_entry(spec, 25s, "restore field");
  spec.timeline.back().takes_back = true;
  auto step = reading("The cable");
  step.does = {0};
  spec.lesson = {step};
  Taught taught(spec);
  taught.run(40s);
  taught.next();
  auto& bench = taught.rehearsal.bench();
  const auto state = *bench::find_signal(taught.spec.bench, "field.state");
  taught.run(4999ms);
  CHECK(bench.value(state, taught.rehearsal.loop().now()) == 1);
  taught.run(1ms);
  CHECK(bench.value(state, taught.rehearsal.loop().now()) == 0);
}

TEST_CASE("a watch that waits in vain has no end, or does not say what it waited for") {
  auto spec = scenario(60s);
  add_named(spec, 20s, "cut ethernet", "pulled");
  auto step = reading("The cable");
  step.does = {0};
  step.until = when({field_is_cut(spec)});
  step.within = 3s;
  auto again = watching("Again");
  spec.lesson = {step, again};
  Taught taught(spec);
  taught.run(1s);
  taught.next();
  taught.run(2999ms);
  CHECK(taught.pupils.lesson.phase() == Phase::watch);
  CHECK(taught.pupils.lesson.watching() == "until field.state cut");
  taught.run(1ms);
  CHECK(taught.pupils.lesson.phase() == Phase::told);
  CHECK_MESSAGE(taught.happened().find("ethernet: ") == 0, taught.happened());
  CHECK_MESSAGE(taught.happened().ends_with("lesson: field.state cut did not come within 3 s; "),
                taught.happened());
  taught.next();
  taught.next();  // watches for two seconds
  taught.run(1999ms);
  CHECK(taught.pupils.lesson.phase() == Phase::watch);
  taught.run(1ms);
  CHECK(taught.pupils.lesson.phase() == Phase::told);
}

TEST_CASE("conditions that held before a step went on, and hold no more, end its watch") {
  auto spec = scenario(60s);
  toggle_field(spec, {1s, 2s, 30s});
  auto step = reading("Wait");
  step.until = when({field_is_cut(spec)});
  spec.lesson = {step};
  Taught taught(spec);
  taught.run(10s);
  taught.next();
  taught.run(19s);
  CHECK(taught.pupils.lesson.phase() == Phase::watch);
  taught.run(1s);
  CHECK(taught.pupils.lesson.phase() == Phase::told);
}

TEST_CASE("a scenario without a lesson cannot be walked through, entry by entry in the order of time") {
  auto spec = scenario(60s);
  spec.title = "A story";
  spec.why = "For a reason.";
  add_entry(spec, 30s, "restore field");
  add_entry(spec, 20s, "cut field");
  add_entry(spec, 22s, "cut ethernet");
  Expectation expected;
  expected.name = "is seen at once";
  expected.from = on(spec, "cut field");
  expected.within = 4s;
  expected.conditions = {field_is_cut(spec)};
  spec.expectations = {expected};
  const auto made = rehearsal::as_lesson(spec);
  REQUIRE(made.lesson.size() == 5);
  CHECK(made.lesson[0].title == "A story");
  CHECK(made.lesson[0].say == "For a reason.");
  CHECK(made.lesson[0].watch == Duration{20s});
  CHECK(made.lesson[1].title == "Cut: field");
  CHECK(made.lesson[1].does == std::vector<std::size_t>{1});
  CHECK_MESSAGE(made.lesson[1].say.find("is seen at once") != std::string::npos, made.lesson[1].say);
  CHECK_MESSAGE(made.lesson[1].say.find("pulls the cable") != std::string::npos, made.lesson[1].say);
  CHECK(made.lesson[1].watch == Duration{3s});  // the next comes after 2 s; nobody can look so quickly
  CHECK(made.lesson[1].look_at == std::vector<std::string>{"field.state"});
  CHECK(made.lesson[2].title == "Cut: ethernet");
  CHECK(made.lesson[3].title == "Restore: field");
  CHECK(made.lesson[4].title == "How it went");

  Taught taught(spec);
  for (int i = 0; i < 40 && !taught.pupils.lesson.done(); ++i) {
    if (taught.pupils.lesson.phase() != Phase::watch) taught.next();
    taught.run(5s);
  }
  REQUIRE(taught.pupils.lesson.done());
  REQUIRE(taught.pupils.outcomes.size() == 1);
  CHECK_MESSAGE(taught.pupils.outcomes[0].result == kPassed, taught.pupils.outcomes[0].sentence);
}

TEST_CASE("the same lesson with the same words at the same times goes another way") {
  const auto once = [] {
    auto spec = scenario(60s);
    add_named(spec, 20s, "cycle heater.terminal.enable", "reset");
    auto step = asking("Reset", 1);
    step.does = {0};
    step.until = when({that(spec, "heater.terminal.enable", Comparator::equals, 1)});
    spec.lesson = {step};
    Taught taught(spec);
    taught.run(3s);
    REQUIRE(taught.pupils.lesson.predict(2));
    taught.next();
    taught.run(7s);
    std::string text;
    for (const auto& entry : taught.pupils.lesson.happened())
      text += std::to_string(entry.at.time_since_epoch().count()) + entry.subject + entry.sentence;
    return text;
  };
  CHECK(once() == once());
}

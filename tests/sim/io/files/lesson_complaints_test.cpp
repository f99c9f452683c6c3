#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using namespace std::chrono_literals;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

namespace {

/// The sample scenario, with a lesson behind it from line 24 on and names in its timeline.
std::string with_lesson(const std::string& steps) {
  auto text = test::replaced(test::kScenario, "at: 20 s, cut: field", "at: 20 s, cut: field, name: pulled");
  text = test::replaced(text, "at: 30 s, restore: field", "at: 30 s, restore: field, name: back");
  return text + "lesson:\n" + steps;
}

std::vector<std::string> complaints(const std::string& steps) {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  workspace.write("scenario.yaml", with_lesson(steps));
  return workspace.complaints("scenario.yaml");
}

rehearsal::ScenarioSpec load(const std::string& steps) {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  auto loaded = io::load_scenario(workspace.write("scenario.yaml", with_lesson(steps)));
  if (!loaded) FAIL(workspace.lines(loaded.error()).front());
  return std::move(loaded).value();
}

}  // namespace

TEST_CASE("a key of a lesson does not arrive in its step") {
  const auto scenario = load(
      "  - title: The cable\n"
      "    say: |\n"
      "      One paragraph,\n"
      "      on two lines.\n"
      "\n"
      "\n"
      "      Another.\n"
      "    question: What will it do?\n"
      "    answers: [Nothing, It waits, Heat]\n"
      "    right: 2\n"
      "    because: It has\n"
      "      been told to.\n"
      "    does: [back, pulled]\n"
      "    button: Pull it\n"
      "    until: { soak-heater.state: inhibited }\n"
      "    within: 20 s\n"
      "    look_at: [soak-heater.state, soak.measured]\n"
      "  - { title: Wait, say: Nothing comes., until: 5 s }\n"
      "  - { title: Read, say: The end. }\n");
  REQUIRE(scenario.lesson.size() == 3);
  const auto& step = scenario.lesson[0];
  CHECK(step.title == "The cable");
  CHECK(step.say == "One paragraph, on two lines.\n\nAnother.");
  CHECK(step.question == "What will it do?");
  CHECK(step.answers == std::vector<std::string>{"Nothing", "It waits", "Heat"});
  CHECK(step.right == 1);
  CHECK(step.because == "It has been told to.");
  CHECK(step.does == std::vector<std::size_t>{0, 1});  // `back` stands first in the file
  CHECK(step.button == "Pull it");
  REQUIRE(step.until);
  CHECK(step.until->text == "soak-heater.state inhibited");
  CHECK(step.until->conditions.size() == 1);
  CHECK(step.within == 20s);
  CHECK_FALSE(step.watch);
  CHECK(step.look_at == std::vector<std::string>{"soak-heater.state", "soak.measured"});
  CHECK(step.acts());
  CHECK(scenario.lesson[1].watch == Duration{5s});
  CHECK_FALSE(scenario.lesson[1].until);
  CHECK(scenario.lesson[1].within == 60s);
  CHECK_FALSE(scenario.lesson[2].acts());
}

TEST_CASE("what is wrong with a lesson is told where it stands") {
  struct Row {
    const char* what;
    const char* steps;
    const char* expected;
  };
  const Row rows[] = {
      {"no list", "  title: A\n",
       "scenario.yaml:25:3: lesson: expected a list of steps such as { title: The cable is pulled, say: ..., "
       "does: pulled }, found keys and values"},
      {"no title", "  - { say: B. }\n",
       "scenario.yaml:25:5: lesson: key 'title' is missing, a few words that stand above the step"},
      {"nothing said", "  - { title: A }\n",
       "scenario.yaml:25:5: lesson: key 'say' is missing, expected what is told, in plain words"},
      {"a key nobody knows", "  - { title: A, say: B., dose: pulled }\n",
       "scenario.yaml:25:26: unknown key 'dose', did you mean 'does'?"},
      {"an entry nobody named", "  - { title: A, say: B., does: puled }\n",
       "scenario.yaml:25:32: does: unknown entry 'puled', did you mean 'pulled'?"},
      {"an entry twice",
       "  - { title: A, say: B., does: pulled }\n  - { title: A, say: B., does: [pulled] }\n",
       "scenario.yaml:26:33: does: 'pulled' happens in the step of line 25 already"},
      {"answers without a question", "  - { title: A, say: B., answers: [a, b] }\n",
       "scenario.yaml:25:26: answers: goes with 'question', which says what the class is to predict"},
      {"a question without answers", "  - { title: A, say: B., question: C, right: 1, because: D. }\n",
       "scenario.yaml:25:5: lesson: key 'answers' is missing, two to five to choose from"},
      {"one answer", "  - { title: A, say: B., question: C, answers: [a], right: 1, because: D. }\n",
       "scenario.yaml:25:48: answers: expected a list of two to five answers to choose from, found a list"},
      {"a right answer that is none",
       "  - { title: A, say: B., question: C, answers: [a, b], right: 3, because: D. }\n",
       "scenario.yaml:25:63: right: expected a whole number from 1 to 2, found '3'"},
      {"no reason", "  - { title: A, say: B., question: C, answers: [a, b], right: 2 }\n",
       "scenario.yaml:25:5: lesson: key 'because' is missing, expected why that answer is right"},
      {"until of an unknown signal", "  - { title: A, say: B., until: { soak-heater.stat: inhibited } }\n",
       "scenario.yaml:25:35: unknown signal 'soak-heater.stat', did you mean 'soak-heater.state'?"},
      {"until that never holds",
       "  - { title: A, say: B., until: { soak-heater.setpoint: { above: 100 % } } }\n",
       "scenario.yaml:25:57: soak-heater.setpoint above 100 % can never hold: it goes from 0 % to 100 %"},
      {"until no time", "  - { title: A, say: B., until: 5 A }\n",
       "scenario.yaml:25:33: until: 'A' is no unit for a time: expected a time such as '3 s'"},
      {"until a list", "  - { title: A, say: B., until: [5 s] }\n",
       "scenario.yaml:25:33: until: expected conditions such as { soak-heater.state: inhibited }, or how "
       "long, such as '5 s', found a list"},
      {"within a time", "  - { title: A, say: B., until: 5 s, within: 5 s }\n",
       "scenario.yaml:25:38: within: goes with conditions under 'until'"},
      {"within of no length",
       "  - { title: A, say: B., until: { soak-heater.state: inhibited }, within: 0 s }\n",
       "scenario.yaml:25:75: within: '0 s' must be above 0"},
      {"a button for nothing", "  - { title: A, say: B., button: Go }\n",
       "scenario.yaml:25:26: button: nothing is done or watched in this step, so there is nothing to go on "
       "with"},
      {"a signal to look at that is none", "  - { title: A, say: B., look_at: [soak.measurd] }\n",
       "scenario.yaml:25:36: look_at: unknown signal 'soak.measurd', did you mean 'soak.measured'?"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints(row.steps) == std::vector<std::string>{row.expected});
  }
}

TEST_CASE("does without any named entry is not told so") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  workspace.write("scenario.yaml",
                  std::string(test::kScenario) + "lesson: [{ title: A, say: B., does: pulled }]\n");
  CHECK(workspace.complaints("scenario.yaml") ==
        std::vector<std::string>{
            "scenario.yaml:24:37: does: no entry of the timeline has a name, found 'pulled'"});
}

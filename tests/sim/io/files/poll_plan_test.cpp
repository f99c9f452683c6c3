#include <chrono>
#include <string>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using namespace std::chrono_literals;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("a poll plan is read as it stands, with where each value is on the wire") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", test::kTable);
  const auto wish = io::load_poll_wish(workspace.write("poll-plan.yaml", test::kPollPlan));
  REQUIRE(wish);
  CHECK(wish->title == "Soak heater");
  CHECK(wish->bench->title == "Test bench");
  CHECK(wish->line == 0);
  CHECK(wish->master.timeout == 500ms);
  CHECK(wish->master.retries == 2);
  CHECK(wish->master.pause == 0ms);
  CHECK_FALSE(wish->master.poll_lost_every);
  REQUIRE(wish->reads.size() == 3);
  REQUIRE(wish->writes.size() == 1);
  const auto& current = wish->reads[1];
  CHECK(current.name == "soak-heater.load_current_l1");
  CHECK(current.table == modbus::Table::holding_registers);
  CHECK(current.address == 0x0040);
  CHECK(current.count == 1);
  CHECK(current.every == 1s);
  CHECK(current.place.line == 6);
  CHECK(wish->reads[2].address == 0x0050);
  CHECK(wish->reads[2].count == 2);  // f32
  CHECK(wish->reads[2].every == 2s);
  CHECK(wish->writes[0].address == 0x0030);
  CHECK(wish->writes[0].every == 2s);
}

TEST_CASE("what is wrong with a poll plan is told where it stands") {
  const test::Breakage cases[] = {
      {"an unknown key", "line: field\n", "line: field\nspeed: 3\n",
       "poll-plan.yaml:4:1: unknown key 'speed'; known: poll_plan, bench, line, master, want, format"},
      {"a line nobody defined", "line: field", "line: feild",
       "poll-plan.yaml:3:7: line: unknown line 'feild', did you mean 'field'?"},
      {"a bench that is not there", "bench: bench.yaml", "bench: bank.yaml",
       "poll-plan.yaml:2:8: bench: bank.yaml: no such file"},
      {"a mistake of the bench", "current: 63 A", "current: 63 V",
       "bench.yaml:14:40: current: 'V' is no unit for a current: expected a current such as '50 A'",
       "bench.yaml"},
      {"a name nobody has", "soak-heater.state,", "soak-heater.stat,",
       "poll-plan.yaml:6:26: read: unknown signal 'soak-heater.stat', did you mean 'soak-heater.state'?"},
      {"a point without address", "soak-heater.state,", "soak-heater.energy,",
       "poll-plan.yaml:6:26: read: 'soak-heater.energy' is not in the register table 'Test table'"},
      {"a slave on another line", "soak-heater.state,", "soak.measured,",
       "poll-plan.yaml:6:26: read: 'soak.measured' cannot be reached over field, only over ethernet"},
      {"a name twice", "soak-heater.load_power,", "soak-heater.state,",
       "poll-plan.yaml:7:25: read: 'soak-heater.state' is wanted already, on line 6"},
      {"a write to what is only read", "write: soak-heater.setpoint", "write: soak-heater.trips",
       "poll-plan.yaml:7:56: write: 'soak-heater.trips' is read-only in the register table 'Test table'"},
      {"a want of nothing", "every: 1 s, read: [soak-heater.state, soak-heater.load_current_l1]",
       "every: 1 s", "poll-plan.yaml:6:5: what? expected 'read: [NAMES]' or 'write: [NAMES]'"},
      {"no period", "every: 1 s, ", "",
       "poll-plan.yaml:6:5: want: key 'every' is missing, expected how often at least, such as '1 s'"},
      {"a period of nothing", "every: 1 s", "every: 0 s",
       "poll-plan.yaml:6:14: every: '0 s' must be above 0"},
      {"a period too short", "every: 1 s", "every: 10 us",
       "poll-plan.yaml:6:14: every: expected a period of 1 ms or more, found '10 us'"},
      {"a pause before tries that there are not", "retries: 2", "retry_after: 1 s",
       "poll-plan.yaml:4:28: retry_after: there is no further try without 'retries'"},
      {"a period of weeks", "every: 1 s", "every: 169 h",
       "poll-plan.yaml:6:14: every: expected at most 7 days (168 h), found '169 h'"},
      {"a time-out that never ends", "timeout: 500 ms", "timeout: 24000 h",
       "poll-plan.yaml:4:20: timeout: expected at most 1 h, found '24000 h'"},
      {"tries without end", "timeout: 500 ms, retries: 2", "timeout: 40 min, retries: 1",
       "poll-plan.yaml:4:9: master: a request that nobody answers takes 1 h 20 min with all its tries, "
       "expected at "
       "most 1 h"},
      {"a pause of hours", "retries: 2", "pause: 2 h",
       "poll-plan.yaml:4:35: pause: expected at most 1 min, found '2 h'"},
      {"a lost one that is forgotten", "retries: 2", "poll_lost_every: 200 h",
       "poll-plan.yaml:4:45: poll_lost_every: expected at most 7 days (168 h), found '200 h'"},
      {"no time-out", "timeout: 500 ms", "timeout: 0 s",
       "poll-plan.yaml:4:20: timeout: '0 s' must be above 0"},
  };
  test::check_breakages(cases, "poll-plan.yaml");
}

namespace {

/// The sample scenario with the plan in its program.
std::string story_with(const std::string& step = "{ poll: poll-plan.yaml }") {
  return test::replaced(test::kScenario, "    when_lost:", "      - " + step + "\n    when_lost:");
}

struct Case {
  const char* what;
  std::string scenario;
  std::string plan;
  const char* expected;
};

}  // namespace

TEST_CASE("a stand-in polls by a plan: a step for each read, with its block, period and phase") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", test::kTable);
  const auto plan = io::load_poll_plan(workspace.write("poll-plan.yaml", test::kPollPlan));
  REQUIRE(plan);
  const auto scenario = io::load_scenario(workspace.write("scenario.yaml", story_with()));
  REQUIRE(scenario);
  REQUIRE(scenario->poll_plans.size() == 1);
  CHECK(scenario->poll_plans[0]->requests.size() == plan->requests.size());
  CHECK(scenario->files.back().name == "poll-plan.yaml");
  const auto& program = scenario->masters[0].program;
  std::vector<rehearsal::ProgramStep> steps(program.begin() + 3, program.end());
  std::size_t reads = 0;
  for (const auto& request : plan->requests) {
    if (request.write) continue;
    REQUIRE(reads < steps.size());
    const auto& step = steps[reads++];
    CHECK(step.kind == rehearsal::ProgramStep::Kind::read);
    CHECK(step.every == request.every);
    CHECK(step.phase == request.phase);
    REQUIRE(step.block);
    CHECK(step.block->first == request.range.first);
    CHECK(step.block->count == request.range.count);
    CHECK(step.reads.size() == request.brings.size());
  }
  CHECK(reads == steps.size());
}

TEST_CASE("a plan that is not for this stand-in is refused where the stand-in names it") {
  const std::string plan = test::kPollPlan;
  const Case cases[] = {
      {"a plan that is not there", story_with("{ poll: plans.yaml }"), plan,
       "scenario.yaml:15:17: poll: plans.yaml: no such file"},
      {"another kind of file", story_with("{ poll: bench.yaml }"), plan,
       "scenario.yaml:15:17: poll: bench.yaml: this is a bench, expected a poll plan"},
      {"another bench", story_with(), test::replaced(plan, "bench: bench.yaml", "bench: other.yaml"),
       "scenario.yaml:15:17: poll: poll-plan.yaml is made for the bench 'other.yaml', this scenario has "
       "'bench.yaml'"},
      {"another line", test::replaced(story_with(), "lines: [field, ethernet]", "lines: ethernet"), plan,
       "scenario.yaml:15:17: poll: the plan is for the line field, this stand-in has only ethernet"},
      {"a line that comes too late", test::replaced(story_with(), "[field, ethernet]", "[ethernet, field]"),
       plan,
       "scenario.yaml:15:17: poll: the plan is for the line field, but 'soak-heater' is asked over ethernet, "
       "which stands before it among the stand-in's lines"},
      {"another time-out", test::replaced(story_with(), "timeout: 500 ms", "timeout: 300 ms"), plan,
       "scenario.yaml:15:17: poll: the plan reckons with timeout 0.5 s, this stand-in has 0.3 s: say the "
       "same "
       "in both"},
      {"other tries", story_with(), test::replaced(plan, "retries: 2", "retries: 1"),
       "scenario.yaml:15:17: poll: the plan reckons with retries 1, this stand-in has 2: say the same in "
       "both"},
      {"a pause, which a stand-in does not make", story_with(),
       test::replaced(plan, "retries: 2", "retries: 2, pause: 20 ms"),
       "scenario.yaml:15:17: poll: the plan reckons with a pause of 20 ms before the next request, and a "
       "stand-in "
       "makes none: expected a plan without 'pause'"},
      {"a mistake of the plan", story_with(), test::replaced(plan, "line: field", "line: feild"),
       "poll-plan.yaml:3:7: line: unknown line 'feild', did you mean 'field'?"},
      {"a plan that does not stand alone", story_with("{ every: 1 s, poll: poll-plan.yaml }"), plan,
       "scenario.yaml:15:11: unknown key 'every'; known: poll"},
      {"a phase without period", test::replaced(story_with(), "at: 1 s, write", "at: 1 s, phase: 1 s, write"),
       plan, "scenario.yaml:12:20: phase: goes with 'every' only"},
      {"a phase as long as the period",
       test::replaced(story_with(), "every: 2 s, read", "every: 2 s, phase: 2 s, read"), plan,
       "scenario.yaml:13:30: phase: '2 s' has to be less than 'every', which is 2 s"},
      {"a phase behind the end",
       test::replaced(story_with(), "every: 2 s, read", "every: 2 min, phase: 90 s, read"), plan,
       "scenario.yaml:13:32: phase: '90 s' is after the end of the run"},
  };
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("other.yaml", test::kBench);
  workspace.write("table.yaml", test::kTable);
  for (const auto& one : cases) {
    CAPTURE(std::string(one.what));
    workspace.write("poll-plan.yaml", one.plan);
    workspace.write("scenario.yaml", one.scenario);
    std::string said;
    for (const auto& line : workspace.complaints("scenario.yaml")) said += (said.empty() ? "" : "\n") + line;
    CHECK(said == std::string(one.expected));
  }
}

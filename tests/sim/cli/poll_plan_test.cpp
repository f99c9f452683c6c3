#include <string>

#include <doctest/doctest.h>
#include <signal.h>

#include "tests/support/small_story.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

const std::string kConfig = std::string(EMBERLINE_SOURCE_DIR) + "/config/";
const std::string kPlan = kConfig + "polls/lehr-field.yaml";

std::string plan_of(const std::string& wants, const std::string& master = "{ timeout: 300 ms }") {
  return "poll_plan: A plan\nbench: " + kConfig +
         "benches/annealing-lehr.yaml\nline: field\nmaster: " + master + "\nwant: [" + wants + "]\n";
}

bool says(const std::string& text, const std::string& words) { return text.find(words) != std::string::npos; }

}  // namespace

TEST_CASE("the shipped poll plan does not fit its line, or does not say so") {
  const auto ran = run_emberline({"poll-plan", kPlan});
  CHECK_MESSAGE(ran.status == 0, ran.err);
  CHECK(says(ran.out, "IT FITS"));
  CHECK(says(ran.out, "CAUTION: a comms watchdog is no safety function"));
  CHECK_FALSE(says(ran.out, "WARNING"));
  CHECK(ran.err.empty());
}

TEST_CASE("a line that is asked for more than it can carry passes for one that can") {
  const TemporaryFolder folder;
  // 19200 bit/s: a short read takes 8 + 7 characters of 0.573 ms and 2 x 2.005 ms, more than 10 ms.
  folder.write("greedy.yaml", plan_of("{ every: 10 ms, read: [cooling-heater.state] }"));
  const auto ran = run_emberline({"poll-plan", folder.file("greedy.yaml")});
  CHECK(ran.status == 1);
  CHECK(says(ran.out, "IT DOES NOT FIT"));
  CHECK(says(ran.out, "of the line's time"));
}

TEST_CASE("a watchdog that is shorter than the plan needs is not warned of") {
  const TemporaryFolder folder;
  folder.write("slow.yaml", plan_of("{ every: 4 s, read: [soak-heater.state, cooling-heater.state] }"));
  const auto ran = run_emberline({"poll-plan", folder.file("slow.yaml")});
  CHECK(ran.status == 0);
  CHECK(says(ran.out, "WARNING: the comms watchdog of soak-heater is set to 3 s and has to be 4"));
  CHECK(says(ran.out, "although everybody answers"));
}

TEST_CASE("a plan that no read can serve comes with no line that says where") {
  const TemporaryFolder folder;
  folder.write("often.yaml", plan_of("{ every: 50 ms, read: [soak-heater.state] }"));
  const auto often = run_emberline({"poll-plan", folder.file("often.yaml")});
  CHECK(often.status == 2);
  CHECK(says(often.err, "often.yaml:5:"));
  CHECK(often.out.empty());
  const auto none = run_emberline({"poll-plan", folder.file("none.yaml")});
  CHECK(none.status == 2);
  const auto bench = run_emberline({"poll-plan", kConfig + "benches/annealing-lehr.yaml"});
  CHECK(bench.status == 2);
  CHECK(says(bench.err, "this is a bench, expected a poll plan"));
  const auto form = run_emberline({"poll-plan", kPlan, "--as", "pdf"});
  CHECK(form.status == 2);
  CHECK(says(form.err, "--as pdf: expected one of text, csv, markdown, json, st"));
}

TEST_CASE("a plan that is written to a file is another than the one that is shown, or is written by halves") {
  const TemporaryFolder folder;
  for (const std::string form : {"text", "csv", "markdown", "json", "st"}) {
    CAPTURE(form);
    const auto shown = run_emberline({"poll-plan", kPlan, "--as", form});
    const auto written =
        run_emberline({"poll-plan", kPlan, "--as", form, "--out", folder.file("plan." + form)});
    CHECK(shown.status == 0);
    CHECK(written.status == 0);
    CHECK(written.out.empty());
    CHECK(read_file(folder.file("plan." + form)) == shown.out);
  }
  CHECK(run_emberline({"poll-plan", kPlan, "--out", folder.file("nowhere/plan.txt")}).status == 3);
}

TEST_CASE("check does not know a poll plan") {
  const auto good = run_emberline({"check", kPlan});
  CHECK(good.status == 0);
  CHECK(says(good.out, "ok, a poll plan with "));
  const TemporaryFolder folder;
  folder.write("greedy.yaml", plan_of("{ every: 10 ms, read: [cooling-heater.state] }"));
  CHECK(says(run_emberline({"check", folder.file("greedy.yaml")}).out, "1 request, which does not fit"));
}

TEST_CASE("serve holds the traffic against a plan of another bench") {
  const auto ran = run_emberline({"serve", kConfig + "benches/cure-oven.yaml", "--poll-plan", kPlan});
  CHECK(ran.status == 2);
  CHECK_MESSAGE(says(ran.err, "is made for the bench"), ran.err);
}

TEST_CASE("serve holds the traffic against one plan twice") {
  const auto ran = run_emberline({"serve", kConfig + "benches/annealing-lehr.yaml", "--poll-plan", kPlan,
                                  "--poll-plan", kConfig + "polls/../polls/lehr-field.yaml"});
  CHECK(ran.status == 2);
  CHECK_MESSAGE(says(ran.err, "is given already; expected each plan once"), ran.err);
}

TEST_CASE("a served bench does not tell what a master does beside the plan, by its socket or by its panel") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  folder.write("plan.yaml",
               "poll_plan: What we agreed\nbench: bench.yaml\nline: field\n"
               "want: [{ every: 1 s, read: [heater.state] }]\n");
  const std::string ready = folder.file("ready.json");
  Background running({"serve", folder.file("bench.yaml"), "--control", folder.file("control.sock"),
                      "--ready-file", ready, "--panel", "127.0.0.1:0", "--poll-plan",
                      folder.file("plan.yaml")});
  REQUIRE(running.wait_for_file(ready));
  const auto read = run_emberline({"read", "--bench", folder.file("bench.yaml"), "field", "heater", "trips"});
  CHECK_MESSAGE(read.status == 0, read.err);
  const auto text = read_file(ready);
  const auto begin = text.find("http://");
  REQUIRE(begin != std::string::npos);
  const auto url = text.substr(begin, text.find('"', begin) - begin);
  for (const auto& where : {folder.file("control.sock"), url}) {
    CAPTURE(where);
    const auto told = run_emberline({"tell", where, "traffic"});
    CHECK_MESSAGE(told.status == 0, told.err);
    CHECK_MESSAGE(says(told.out, "Beside the poll plan 'What we agreed' of field:"), told.out);
    CHECK_MESSAGE(says(told.out, "0x0051"), told.out);  // asked, and not in the plan
  }
  const auto stopped = running.stop(SIGTERM);
  CHECK_MESSAGE(says(stopped.out, "Beside the poll plan 'What we agreed' of field:"), stopped.out);
}

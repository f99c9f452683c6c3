#include "sim/io/panel/lesson_run.hpp"

#include <atomic>
#include <string>
#include <thread>
#include <utility>

#include <boost/json.hpp>
#include <doctest/doctest.h>

#include "tests/sim/io/panel/lesson_course.hpp"

using namespace emberline;
using namespace std::chrono_literals;
namespace json = boost::json;

namespace {

const char* const kLessons[] = {"lesson-two-step-recovery", "lesson-off-is-not-isolated"};

}  // namespace

TEST_CASE("a shipped lesson claims something that is not so, or comes to no end") {
  for (const char* name : kLessons) {
    for (const bool right : {true, false}) {
      CAPTURE(std::string(name));
      CAPTURE(right);
      test::Course course(test::shipped_lesson(name));
      course.start();
      course.run(1s);
      course.walk(right);
      const auto state = course.state();
      CHECK(state.at("done").as_bool());
      CHECK(state.at("place") == state.at("of"));
      const auto& score = state.at("score").as_object();
      CHECK(score.at("asked").as_int64() >= 4);
      CHECK(score.at("right").as_int64() == (right ? score.at("asked").as_int64() : 0));
      REQUIRE(state.at("verdict").is_object());
      for (const auto& outcome : state.at("verdict").as_object().at("outcomes").as_array())
        CHECK_MESSAGE(outcome.at("result").as_string() == "passed", json::serialize(outcome));
      CHECK(state.at("verdict").as_object().at("passed").as_bool());
      CHECK(state.at("past").as_array().size() == static_cast<std::size_t>(state.at("of").as_int64()));
      CHECK(course.step().at("button").is_null());
      CHECK(course.refused(R"({"go":"next"})") == "the lesson is over: it can only be started over");
      course.run(60s);  // the bench goes on
    }
  }
}

TEST_CASE("a shipped lesson has fewer steps, questions or words than a class needs") {
  for (const char* name : kLessons) {
    const auto scenario = test::shipped_lesson(name);
    CAPTURE(std::string(name));
    CHECK(scenario.lesson.size() >= 6);
    CHECK(scenario.lesson.size() <= 10);
    for (const auto& step : scenario.lesson) {
      CAPTURE(step.title);
      CHECK_FALSE(step.look_at.empty());
      CHECK(step.say.size() <= 420);  // read from 4 m
      CHECK(step.because.size() <= 300);
      CHECK(step.acts() == !step.button.empty());
    }
  }
}

TEST_CASE("what is right is told before it has been seen, or not told then") {
  test::Course course(test::shipped_lesson(kLessons[0]));
  course.start();
  course.run(1s);
  course.walk_step(true);  // heats
  CHECK(course.phase() == "predict");
  for (const bool hidden : {true, false}) {
    const auto ask = course.step(hidden).at("ask").as_object();
    CHECK(ask.at("right").is_null());
    CHECK(ask.at("because").is_null());
    CHECK(ask.at("chosen").is_null());
    CHECK(ask.at("answers").as_array().size() == 3);
  }
  CHECK(course.step().at("button").is_null());
  CHECK(course.refused(R"({"go":"next"})") ==
        "first a prediction: choose one of the answers, then it goes on");
  course.tell(R"({"go":"predict","answer":1})");
  CHECK(course.step().at("ask").at("chosen").as_int64() == 1);
  CHECK(course.step().at("button").as_string() == "Pull the cable");
  course.tell(R"({"go":"next"})");
  CHECK(course.phase() == "watch");
  CHECK(course.step().at("watching").as_string() == "until soak-heater.state inhibited");
  course.run(500ms);
  CHECK(course.step().at("ask").at("right").is_null());
  CHECK(course.step().at("happened").as_array().at(0).at("sentence").as_string() ==
        "cable pulled: nothing gets through");
  course.run(4s);
  CHECK(course.phase() == "told");
  const auto ask = course.step().at("ask").as_object();
  CHECK(ask.at("right").as_int64() == 2);
  CHECK(ask.at("because").as_string().starts_with("The unit cannot see a cable."));
  CHECK(course.state().at("score").at("asked").as_int64() == 1);
  CHECK(course.state().at("score").at("right").as_int64() == 0);
  course.tell(R"({"go":"next"})");
  const auto past = course.state().at("past").as_array();
  REQUIRE(past.size() == 2);
  CHECK(past[0].at("question").is_null());
  CHECK(past[1].at("chosen_text").as_string() == "It switches off at once.");
  CHECK(past[1].at("right_text").as_string() == "It heats on, and then switches off.");
}

TEST_CASE("start over: the old bench is still heard, or something of the old walk stays") {
  test::Course course(test::shipped_lesson(kLessons[0]));
  CHECK(course.refused(R"({"go":"next"})") == "the bench is being started; try again in a second");
  course.start();
  course.run(1s);
  course.walk_step(true);
  course.tell(R"({"go":"predict","answer":2})");
  course.tell(R"({"go":"next"})");
  course.run(1s);
  const auto before = course.desk.version();
  course.tell(R"({"go":"restart"})");
  CHECK(course.over);
  CHECK(course.desk.starts_over());
  CHECK(course.desk.version() > before);
  CHECK(course.state().at("place").as_int64() == 1);
  const auto restarted = course.desk.version();
  course.run(5s);  // the old one latches, and nobody hears of it
  CHECK(course.desk.version() == restarted);
  CHECK(course.phase() == "read");
  CHECK(course.refused(R"({"go":"next"})") == "the bench is being started; try again in a second");
  course.stop();
  course.start();
  CHECK_FALSE(course.desk.starts_over());
  course.run(1s);
  course.walk(true);
  const auto state = course.state();
  CHECK(state.at("score").at("right") == state.at("score").at("asked"));
  CHECK(state.at("verdict").at("passed").as_bool());
  course.tell(R"({"go":"restart"})");
  CHECK(course.state().at("verdict").is_null());
  CHECK_FALSE(course.state().at("done").as_bool());
}

TEST_CASE("a word that is none is taken, or is refused without saying what was expected") {
  test::Course course(test::shipped_lesson(kLessons[0]));
  course.start();
  const std::string expected = R"(expected {"go":"next"}, {"go":"predict","answer":2} or {"go":"restart"})";
  const std::string named =
      R"(a prediction names its answer: expected {"go":"predict","answer":2}, counted from 1)";
  const std::pair<const char*, std::string> rows[] = {
      {"", expected},
      {"next", expected},
      {"[]", expected},
      {"{}", expected},
      {R"({"go":5})", expected},
      {R"({"go":"back"})", expected},
      {R"({"go":"next","answer":1})", expected},
      {R"({"go":"predict"})", named},
      {R"({"go":"predict","answer":"2"})", named},
      {R"({"go":"predict","answer":1.5})", named},
      {R"({"go":"predict","answer":1})", "there is nothing to predict at the moment"},
  };
  const auto version = course.desk.version();
  for (const auto& [word, why] : rows) {
    CAPTURE(std::string(word));
    CHECK(course.refused(word) == why);
  }
  CHECK(course.desk.version() == version);
}

TEST_CASE("the trainer's words on one thread and the bench on another lose or double a step") {
  test::Course course(test::shipped_lesson(kLessons[1]));
  course.start();
  std::atomic<bool> done{false};
  std::thread trainer([&] {
    std::uint64_t last = 0;
    while (!course.desk.summary().done) {
      const auto state = json::parse(course.desk.state_json(false)).as_object();
      const auto version = static_cast<std::uint64_t>(state.at("version").as_int64());
      if (version < last) break;
      last = version;
      const auto& step = state.at("step").as_object();
      if (step.at("phase") == "predict" && step.at("button").is_null())
        static_cast<void>(course.desk.told(R"({"go":"predict","answer":2})"));
      else if (!step.at("button").is_null())
        static_cast<void>(course.desk.told(R"({"go":"next"})"));
      std::this_thread::yield();
    }
    done = true;
  });
  for (int i = 0; i < 200'000 && !done; ++i) course.run(100ms);
  trainer.join();
  course.run(1s);
  CHECK(course.desk.summary().done);
  CHECK(course.state().at("past").as_array().size() == course.desk.summary().of);
  CHECK_FALSE(course.desk.summary().outcomes.empty());
}

TEST_CASE("a blind class reads in the lesson what was done to the bench") {
  for (const char* name : {"lesson-two-step-recovery", "cable-pulled-latch", "phase-lost"}) {
    CAPTURE(std::string(name));
    const auto scenario = test::shipped_lesson(name);
    test::Course course(scenario);
    course.start();
    course.run(1s);
    while (!course.desk.summary().done) {
      course.walk_step(true);
      course.run(100ms);
      const auto blind = course.state(true);
      CHECK(blind.at("place") == course.state().at("place"));
      CHECK(blind.at("score") == course.state().at("score"));
      const auto text = json::serialize(blind);
      const auto tells = [&](const std::string& trace) {
        return !trace.empty() && text.find(trace) != std::string::npos;
      };
      CHECK_FALSE(tells(scenario.title));
      for (const auto& step : scenario.lesson) {
        for (const auto& trace : {step.title, step.button, step.because}) {
          CAPTURE(trace);
          CHECK_FALSE(tells("\"" + trace + "\""));
        }
      }
      for (const auto& entry : scenario.timeline) {
        CAPTURE(entry.action->text());
        CHECK_FALSE(tells(entry.action->text()));
      }
      for (const auto& expected : scenario.expectations) CHECK_FALSE(tells(expected.name));
      CHECK_FALSE(tells("cable pulled"));
      CHECK_FALSE(tells("cable plugged"));
      CHECK(blind.at("step").at("title").is_null());
      CHECK(blind.at("step").at("button").is_null());
      CHECK(blind.at("step").at("look_at").as_array().empty());
    }
    CHECK(course.state(true).at("verdict").at("outcomes").as_array().empty());
    CHECK_FALSE(course.state().at("verdict").at("outcomes").as_array().empty());
  }
}

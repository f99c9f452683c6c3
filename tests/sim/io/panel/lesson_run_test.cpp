#include "sim/io/panel/lesson_run.hpp"

#include <atomic>
#include <deque>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include <boost/json.hpp>
#include <doctest/doctest.h>

#include "sim/io/files/load.hpp"
#include "sim/io/master/stepped_masters.hpp"

using namespace emberline;
using namespace std::chrono_literals;
namespace json = boost::json;

namespace {

rehearsal::ScenarioSpec shipped(const std::string& name) {
  auto loaded = io::load_scenario(std::string(EMBERLINE_SOURCE_DIR) + "/scenarios/" + name + ".yaml");
  REQUIRE_MESSAGE(loaded, name);
  return rehearsal::as_lesson(std::move(loaded).value());
}

const char* const kLessons[] = {"lesson-two-step-recovery", "lesson-off-is-not-isolated"};

/// A lesson on stepped time, with its stand-ins: what is posted runs when the bench is moved.
class Course {
 public:
  explicit Course(rehearsal::ScenarioSpec scenario) : spec_(std::move(scenario)), desk(spec_) {}
  ~Course() { stop(); }
  Course(const Course&) = delete;
  Course& operator=(const Course&) = delete;

  void start() {
    over = false;
    rehearsal_ = std::make_unique<rehearsal::Rehearsal>(spec_, 1, bench::Bench::Options{});
    masters_ = std::make_unique<io::SteppedMasters>(rehearsal_->bench(), spec_.masters);
    rehearsal_->loop().add(bench::Rank::frames, masters_->wire());
    rehearsal_->loop().add(bench::Rank::stand_ins, masters_->stand_ins());
    desk.attach(*rehearsal_, {[this](std::function<void(SimTime)> task) {
                                const std::lock_guard lock(mutex_);
                                tasks_.push_back(std::move(task));
                              },
                              [this] { over = true; }});
  }
  void stop() {
    if (!rehearsal_) return;
    desk.detach();
    masters_->finish();
    masters_.reset();
    rehearsal_.reset();
    tasks_.clear();
  }
  void run(Duration length) {
    std::deque<std::function<void(SimTime)>> tasks;
    {
      const std::lock_guard lock(mutex_);
      tasks.swap(tasks_);
    }
    auto& loop = rehearsal_->loop();
    for (const auto& task : tasks) task(loop.now());
    loop.touched();
    loop.run_through(loop.now() + length);
  }
  [[nodiscard]] json::object state(io::Role role = io::Role::trainer) const {
    return json::parse(desk.state_json(role)).as_object();
  }
  [[nodiscard]] json::object step(io::Role role = io::Role::trainer) const {
    return state(role).at("step").as_object();
  }
  [[nodiscard]] std::string phase() const { return step().at("phase").as_string().c_str(); }
  void tell(const std::string& word) {
    const auto told = desk.told(word);
    REQUIRE_MESSAGE(told, (told ? "" : told.error()));
  }
  [[nodiscard]] std::string refused(const std::string& word) {
    const auto told = desk.told(word);
    return told ? "taken" : told.error();
  }
  /// Goes on from the step that stands there, giving the right answers or wrong ones, until the next one.
  void walk_step(bool right) {
    const auto place = desk.summary().place;
    for (int i = 0; i < 2000; ++i) {
      const auto summary = desk.summary();
      if (summary.done || summary.place != place) return;
      if (phase() == "watch") {
        run(50ms);
        continue;
      }
      if (phase() == "predict") predict(right);
      run(2s);  // the class talks
      tell(R"({"go":"next"})");
    }
    FAIL("the step comes to no end");
  }
  void walk(bool right) {
    while (!desk.summary().done) walk_step(right);
    run(100ms);
  }

 private:
  void predict(bool right) {
    const auto& step = spec_.lesson[desk.summary().place - 1];
    const auto answer = right ? step.right + 1 : (step.right + 1) % step.answers.size() + 1;
    tell(R"({"go":"predict","answer":)" + std::to_string(answer) + "}");
  }

  rehearsal::ScenarioSpec spec_;

 public:
  io::LessonRun desk;
  std::atomic<bool> over{false};

 private:
  std::mutex mutex_;
  std::deque<std::function<void(SimTime)>> tasks_;
  std::unique_ptr<rehearsal::Rehearsal> rehearsal_;
  std::unique_ptr<io::SteppedMasters> masters_;
};

}  // namespace

TEST_CASE("a shipped lesson claims something that is not so, or comes to no end") {
  for (const char* name : kLessons) {
    for (const bool right : {true, false}) {
      CAPTURE(std::string(name));
      CAPTURE(right);
      Course course(shipped(name));
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
    const auto scenario = shipped(name);
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
  Course course(shipped(kLessons[0]));
  course.start();
  course.run(1s);
  course.walk_step(true);  // heats
  CHECK(course.phase() == "predict");
  for (const auto role : {io::Role::watcher, io::Role::trainer}) {
    const auto ask = course.step(role).at("ask").as_object();
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
  const auto ask = course.step(io::Role::watcher).at("ask").as_object();
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
  Course course(shipped(kLessons[0]));
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
  Course course(shipped(kLessons[0]));
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
  Course course(shipped(kLessons[1]));
  course.start();
  std::atomic<bool> done{false};
  std::thread trainer([&] {
    std::uint64_t last = 0;
    while (!course.desk.summary().done) {
      const auto state = json::parse(course.desk.state_json(io::Role::trainer)).as_object();
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

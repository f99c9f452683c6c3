#pragma once

#include <atomic>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <utility>

#include <boost/json.hpp>
#include <doctest/doctest.h>

#include "sim/io/files/load.hpp"
#include "sim/io/master/stepped_masters.hpp"
#include "sim/io/panel/lesson_run.hpp"

namespace emberline::test {

/// A scenario of this project, opened as a lesson.
inline rehearsal::ScenarioSpec shipped_lesson(const std::string& name) {
  auto loaded = io::load_scenario(std::string(EMBERLINE_SOURCE_DIR) + "/scenarios/" + name + ".yaml");
  REQUIRE_MESSAGE(loaded, name);
  return rehearsal::as_lesson(std::move(loaded).value());
}

/// A lesson on stepped time, with its stand-ins: what is posted runs when the bench is moved.
class Course {
 public:
  /// `talk`: how long the class talks over every word of the trainer's.
  explicit Course(rehearsal::ScenarioSpec scenario, Duration talk = std::chrono::seconds{2})
      : spec_(std::move(scenario)), talk_(talk), desk(spec_) {}
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
  [[nodiscard]] boost::json::object state(bool hidden = false) const {
    return boost::json::parse(desk.state_json(hidden)).as_object();
  }
  [[nodiscard]] boost::json::object step(bool hidden = false) const {
    return state(hidden).at("step").as_object();
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
    for (int i = 0; i < 8000; ++i) {
      const auto summary = desk.summary();
      if (summary.done || summary.place != place) return;
      if (phase() == "watch") {
        run(std::chrono::milliseconds{50});
        continue;
      }
      if (phase() == "predict") predict(right);
      run(talk_);
      tell(R"({"go":"next"})");
    }
    FAIL("the step comes to no end");
  }
  void walk(bool right) {
    while (!desk.summary().done) walk_step(right);
    run(std::chrono::milliseconds{100});
  }

 private:
  void predict(bool right) {
    const auto& step = spec_.lesson[desk.summary().place - 1];
    const auto answer = right ? step.right + 1 : (step.right + 1) % step.answers.size() + 1;
    tell(R"({"go":"predict","answer":)" + std::to_string(answer) + "}");
  }

  rehearsal::ScenarioSpec spec_;
  Duration talk_;

 public:
  io::LessonRun desk;
  std::atomic<bool> over{false};

 private:
  std::mutex mutex_;
  std::deque<std::function<void(SimTime)>> tasks_;
  std::unique_ptr<rehearsal::Rehearsal> rehearsal_;
  std::unique_ptr<io::SteppedMasters> masters_;
};

}  // namespace emberline::test

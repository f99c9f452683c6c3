#include "sim/io/panel/lesson_json.hpp"

#include <utility>

#include "sim/io/report/json_find.hpp"
#include "sim/io/report/json_text.hpp"

namespace emberline::io {
namespace {

using rehearsal::Lesson;
using rehearsal::LessonStep;
using Phase = Lesson::Phase;

/// No more of what happened than a page can show: the last of it.
constexpr std::size_t kMostHappened = 200;

std::string_view word_of(Phase phase) {
  switch (phase) {
    case Phase::read:
      return "read";
    case Phase::predict:
      return "predict";
    case Phase::watch:
      return "watch";
    case Phase::told:
      break;
  }
  return "told";
}

std::string_view word_of(rehearsal::Outcome::Result result) {
  switch (result) {
    case rehearsal::Outcome::Result::passed:
      return "passed";
    case rehearsal::Outcome::Result::failed:
      return "failed";
    case rehearsal::Outcome::Result::not_judged:
      break;
  }
  return "not judged";
}

/// Answers count from 1.
void put_answer(JsonText& json, std::optional<std::size_t> answer) {
  if (answer) {
    json.whole(*answer + 1);
  } else {
    json.null();
  }
}

void put_ask(JsonText& json, const Lesson& lesson, bool hidden) {
  const auto& step = lesson.step();
  json.key("ask");
  if (step.question.empty()) {
    json.null();
    return;
  }
  const bool revealed = lesson.revealed(lesson.place());
  json.object().key("question").text(step.question).key("answers").array();
  for (const auto& answer : step.answers) json.text(answer);
  json.end_array().key("chosen");
  put_answer(json, lesson.chosen(lesson.place()));
  json.key("right");
  put_answer(json, revealed ? std::optional(step.right) : std::nullopt);
  json.key("because");
  json.text_or_null(revealed && !hidden ? std::optional(step.because) : std::nullopt);
  json.end_object();
}

void put_happened(JsonText& json, const std::vector<bench::Journal::Entry>& entries, bool hidden) {
  json.key("happened").array();
  const auto first = entries.size() > kMostHappened ? entries.size() - kMostHappened : 0;
  for (std::size_t i = first; i < entries.size(); ++i) {
    if (hidden && entries[i].by_action) continue;
    json.object().key("at").time(entries[i].at).key("subject").text(entries[i].subject);
    json.key("sentence").text(entries[i].sentence).end_object();
  }
  json.end_array();
}

void put_step(JsonText& json, const Lesson& lesson, bool hidden) {
  const auto& step = lesson.step();
  const auto told = [&](std::optional<std::string> text) { return hidden ? std::nullopt : std::move(text); };
  json.key("step").object().key("title");
  json.text_or_null(told(step.title));
  json.key("say");
  json.text_or_null(told(step.say));
  put_ask(json, lesson, hidden);
  json.key("phase").text(word_of(lesson.phase())).key("button");
  json.text_or_null(told(lesson.button()));
  json.key("watching");
  json.text_or_null(told(lesson.watching()));
  json.key("look_at").array();
  for (const auto& signal : step.look_at)
    if (!hidden) json.text(signal);
  json.end_array();
  put_happened(json, lesson.happened(), hidden);
  json.end_object();
}

void put_answer_text(JsonText& json, const LessonStep& step, std::optional<std::size_t> answer) {
  json.text_or_null(answer ? std::optional(step.answers[*answer]) : std::nullopt);
}

/// Steps that are through; at the end the last one is among them.
void put_past(JsonText& json, const Lesson& lesson, bool hidden) {
  json.key("past").array();
  const auto through = lesson.done() ? lesson.steps().size() : lesson.place();
  for (std::size_t i = 0; i < through; ++i) {
    const auto& step = lesson.steps()[i];
    const auto chosen = lesson.chosen(i);
    const auto right = step.question.empty() ? std::nullopt : std::optional(step.right);
    json.object().key("title");
    json.text_or_null(hidden ? std::nullopt : std::optional(step.title));
    json.key("question");
    json.text_or_null(step.question.empty() ? std::nullopt : std::optional(step.question));
    json.key("chosen");
    put_answer(json, chosen);
    json.key("right");
    put_answer(json, right);
    json.key("chosen_text");
    put_answer_text(json, step, chosen);
    json.key("right_text");
    put_answer_text(json, step, right);
    json.end_object();
  }
  json.end_array();
}

void put_verdict(JsonText& json, const LessonView& view) {
  const auto& outcomes = view.outcomes;
  json.key("verdict");
  if (outcomes.empty()) {
    json.null();
    return;
  }
  json.object().key("passed");
  // What a file expects holds at its own pace; a trainer's can be another.
  if (view.scenario.lesson_is_made) {
    json.null();
  } else {
    json.flag(rehearsal::none_failed(outcomes));
  }
  json.key("outcomes").array();
  for (const auto& outcome : outcomes) {
    if (view.hidden) break;
    json.object().key("name").text(outcome.name).key("result").text(word_of(outcome.result));
    json.key("sentence").text(outcome.sentence).end_object();
  }
  json.end_array().end_object();
}

}  // namespace

std::string lesson_json(const LessonView& view) {
  const auto& lesson = view.lesson;
  const auto score = lesson.score();
  JsonText json;
  json.object().key("version").whole(view.version).key("title");
  json.text_or_null(view.hidden ? std::nullopt : std::optional(view.scenario.title));
  json.key("why");
  json.text_or_null(view.hidden ? std::nullopt : std::optional(view.scenario.why));
  json.key("place").whole(lesson.place() + 1);
  json.key("of").whole(lesson.steps().size()).key("done").flag(lesson.done());
  put_step(json, lesson, view.hidden);
  put_past(json, lesson, view.hidden);
  json.key("score").object().key("right").whole(score.right).key("asked").whole(score.asked).end_object();
  put_verdict(json, view);
  json.end_object();
  return std::move(json).finished();
}

Result<LessonWord, std::string> lesson_word(const std::string& json) {
  const std::string expected = R"(expected {"go":"next"}, {"go":"predict","answer":2} or {"go":"restart"})";
  const auto value = parse_json(json);
  const auto word = find_text(find_member(&value, "go"));
  if (!word) return Failure{expected};
  const auto* answer = find_member(&value, "answer");
  const auto members = value.get_object().size();
  if (*word == "predict") {
    if (members != 2 || answer == nullptr || !answer->is_int64())
      return Failure{R"(a prediction names its answer: expected {"go":"predict","answer":2})" +
                     std::string(", counted from 1")};
    return LessonWord{LessonPrediction{answer->as_int64()}};
  }
  if (members != 1) return Failure{expected};
  if (*word == "next") return LessonWord{LessonNext{}};
  if (*word == "restart") return LessonWord{LessonRestart{}};
  return Failure{expected};
}

}  // namespace emberline::io

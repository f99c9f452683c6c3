#pragma once

#include <cstdint>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/rehearsal/lesson.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::io {

/// What a lesson's state is made of.
struct LessonView {
  const rehearsal::ScenarioSpec& scenario;
  const rehearsal::Lesson& lesson;
  const std::vector<rehearsal::Outcome>& outcomes;  ///< empty: not judged
  std::uint64_t version = 0;
  /// For a blind class: without the texts, which tell what is done to the bench, and without what was done.
  /// Questions and their answers stay: whoever writes a lesson for a blind class asks of symptoms.
  bool hidden = false;
};
/// Where it stands. Nobody is told what is right before it has been seen.
[[nodiscard]] std::string lesson_json(const LessonView& view);

/// What a trainer can say.
struct LessonNext {};
struct LessonRestart {};
struct LessonPrediction {
  std::int64_t answer;  ///< counted from 1
};
using LessonWord = std::variant<LessonNext, LessonRestart, LessonPrediction>;
/// {"go":"next"}, {"go":"predict","answer":2} or {"go":"restart"}. The error is one line.
[[nodiscard]] Result<LessonWord, std::string> lesson_word(const std::string& json);

}  // namespace emberline::io

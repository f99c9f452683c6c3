#pragma once

#include <string>

#include "sim/base/result.hpp"
#include "sim/io/panel/site.hpp"

namespace emberline::io {

/// A lesson as the panel sees it. All calls come on the panel's thread.
class LessonDesk {
 public:
  virtual ~LessonDesk() = default;
  /// Where the lesson stands, as a JSON object; nobody is told what the answers are before they are given.
  /// `hidden`: for a blind class, without all that tells what is done to the bench. The version grows with
  /// every change.
  [[nodiscard]] virtual std::string state_json(bool hidden) const = 0;
  [[nodiscard]] virtual std::uint64_t version() const = 0;
  /// What the trainer does: {"go":"next"}, {"go":"predict","answer":2}, {"go":"restart"}. The error is one
  /// line for the user.
  [[nodiscard]] virtual Result<Done, std::string> told(const std::string& json) = 0;
};

}  // namespace emberline::io

#include "sim/polling/time_words.hpp"

#include <chrono>
#include <cstdint>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"

namespace emberline::polling {
namespace {

constexpr Duration kLongInMilliseconds = std::chrono::seconds{1};
constexpr std::int64_t kFine_ns = 10'000;       // a hundredth of a millisecond
constexpr std::int64_t kCoarse_ns = 1'000'000;  // a millisecond
constexpr std::int64_t kRounding_ns = 100;      // a bound is not made greater for this

std::int64_t step_of(Duration duration) { return duration < kLongInMilliseconds ? kFine_ns : kCoarse_ns; }

std::string in_steps(std::int64_t steps, std::int64_t step) {
  if (step == kCoarse_ns) return format_duration(Duration{steps * step});
  return format_number(static_cast<double>(steps) / 100.0) + " ms";
}

}  // namespace

std::string time_words(Duration duration) {
  const auto step = step_of(duration);
  return in_steps((duration.count() + step / 2) / step, step);
}

std::string bound_words(Duration duration) {
  const auto step = step_of(duration);
  return in_steps((duration.count() - kRounding_ns + step - 1) / step, step);
}

}  // namespace emberline::polling

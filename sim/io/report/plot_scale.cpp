#include "sim/io/report/plot_scale.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/quantity.hpp"

namespace emberline::io {
namespace {

using std::chrono::hours;
using std::chrono::milliseconds;
using std::chrono::minutes;
using std::chrono::seconds;

std::string two_digits(std::int64_t value) { return (value < 10 ? "0" : "") + std::to_string(value); }

std::string label_of(Duration at, Duration ends) {
  if (ends <= minutes{2}) return format_number(to_seconds(at));
  const auto s = std::chrono::duration_cast<seconds>(at).count();
  if (ends <= hours{2}) return std::to_string(s / 60) + ":" + two_digits(s % 60);
  return std::to_string(s / 3600) + ":" + two_digits(s / 60 % 60);
}

}  // namespace

ValueScale value_scale(double lowest, double highest) {
  if (!(highest > lowest)) {  // all the same: some room above and below
    const double room = std::max(1.0, std::fabs(lowest) * 0.1);
    lowest -= room;
    highest += room;
  }
  const double rough = (highest - lowest) / 5.0;
  const double ten = std::pow(10.0, std::floor(std::log10(rough)));
  double step = 10.0 * ten;
  for (const double round : {1.0, 2.0, 5.0}) {
    if (round * ten < rough) continue;
    step = round * ten;
    break;
  }
  // A curve that ends on a line of the scale stays inside of it.
  const double slack = step * 1e-6;
  return {std::floor((lowest + slack) / step) * step, std::ceil((highest - slack) / step) * step, step};
}

TimeScale time_scale(SimTime ends) {
  const Duration length = std::max<Duration>(ends.time_since_epoch(), milliseconds{1});
  static constexpr std::array<Duration, 26> kSteps{
      milliseconds{1},  milliseconds{2},   milliseconds{5},   milliseconds{10},  milliseconds{20},
      milliseconds{50}, milliseconds{100}, milliseconds{200}, milliseconds{500}, seconds{1},
      seconds{2},       seconds{5},        seconds{10},       seconds{20},       minutes{1},
      minutes{2},       minutes{5},        minutes{10},       minutes{20},       hours{1},
      hours{2},         hours{4},          hours{8},          hours{24},         hours{48},
      hours{240}};
  Duration step = kSteps.back();
  for (const auto candidate : kSteps) {
    if (length / candidate > 11) continue;
    step = candidate;
    break;
  }
  TimeScale scale;
  scale.unit = length <= minutes{2} ? "s" : length <= hours{2} ? "min:s" : "h:min";
  for (Duration at{}; at <= length; at += step) scale.ticks.push_back({SimTime{at}, label_of(at, length)});
  return scale;
}

}  // namespace emberline::io

#include "sim/faults/plant/speed.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/quantity.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {{.key = "to",
                                .kind = ActionKey::Kind::whole,
                                .fallback = std::nullopt,
                                .meaning = "so many times as fast; 1 is electrical time",
                                .least = 1.0,
                                .most = 10000.0}};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.set_plant_speed(action.value("to"), at);
}

std::string set_back(const bench::Bench& bench, const Action& action) {
  // A bench can begin at a speed that the word does not know.
  const double before = std::max(1.0, std::round(bench.plant_speed()));
  return std::string(action.kind->word) + " " + action.target_name + " to " + format_number(before);
}

Action undo(const Action& action) {
  Action back = opposite(kSpeed, action);
  back.values.at(0) = 1.0;
  back.extra = {"to 1"};
  return back;
}

}  // namespace

const ActionKind kSpeed{
    "speed",    TargetKind::plant, "lets zones, walls and sensors run so many times as fast",
    Duration{}, perform,           kKeys,
    undo,       nullptr,           nullptr,
    set_back};

}  // namespace emberline::faults

#include "sim/faults/sensor/sensor_offset.hpp"

#include <cmath>

#include "sim/base/quantity.hpp"
#include "sim/faults/mend.hpp"

namespace emberline::faults {
namespace {

constexpr double kMost_K = 1000.0;
constexpr ActionKey kKeys[] = {{.key = "by",
                                .kind = ActionKey::Kind::difference,
                                .fallback = std::nullopt,
                                .meaning = "how much too much it shows; below 0 too little",
                                .least = -kMost_K,
                                .most = kMost_K}};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  auto fault = bench.sensor_fault(action.target.index);
  const double by_K = action.value("by");
  if (fault.offset_K == by_K) return;
  fault.offset_K = by_K;
  bench.change_sensor(action.target.index, fault, at,
                      "sensor shows " + format_quantity(std::abs(by_K), Dimension::temperature_difference) +
                          (by_K < 0.0 ? " too little: whoever controls by it heats too far"
                                      : " too much: whoever controls by it stays too cold"));
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  auto fault = bench.sensor_fault(target.index);
  if (fault.offset_K == 0.0) return false;
  fault.offset_K = 0.0;
  bench.change_sensor(target.index, fault, at, "sensor shows what is there again");
  return true;
}

}  // namespace

const ActionKind kSensorOffset{"sensor_offset",
                               TargetKind::zone,
                               "lets a zone's sensor show too much or too little",
                               Duration{},
                               perform,
                               kKeys,
                               mended,
                               mend};

}  // namespace emberline::faults

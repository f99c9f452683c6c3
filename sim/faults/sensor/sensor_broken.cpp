#include "sim/faults/sensor/sensor_broken.hpp"

#include "sim/faults/mend.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  auto fault = bench.sensor_fault(action.target.index);
  if (fault.broken) return;
  fault.broken = true;
  bench.change_sensor(action.target.index, fault, at,
                      "sensor broken: it has no value, and registers read what their 'broken' says");
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  auto fault = bench.sensor_fault(target.index);
  if (!fault.broken) return false;
  fault.broken = false;
  bench.change_sensor(target.index, fault, at, "sensor replaced: it has a value again");
  return true;
}

}  // namespace

const ActionKind kSensorBroken{"sensor_broken",
                               TargetKind::zone,
                               "breaks the wire of a zone's sensor",
                               Duration{},
                               perform,
                               {},
                               mended,
                               mend};

}  // namespace emberline::faults

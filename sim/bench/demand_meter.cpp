#include "sim/bench/demand_meter.hpp"

#include <algorithm>

namespace emberline::bench {

void DemandMeter::pass(Duration length, double power_W) {
  while (length > Duration{}) {
    const Duration part = std::min(length, interval_ - into_);
    energy_J_ += power_W * to_seconds(part);
    into_ += part;
    length -= part;
    if (into_ < interval_) continue;
    demand_W_ = energy_J_ / to_seconds(interval_);
    peak_W_ = std::max(peak_W_, demand_W_);
    into_ = Duration{};
    energy_J_ = 0.0;
  }
}

}  // namespace emberline::bench

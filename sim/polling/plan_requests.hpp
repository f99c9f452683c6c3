#pragma once

#include <cstddef>
#include <map>
#include <string>
#include <tuple>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/result.hpp"
#include "sim/polling/poll_plan.hpp"
#include "sim/polling/schedule.hpp"

namespace emberline::polling {

/// A slave of the plan.
struct SlaveKey {
  bool io_block = false;
  std::size_t slave = 0;  ///< index into units or io_blocks of the bench
  bool operator==(const SlaveKey&) const = default;
  bool operator<(const SlaveKey& other) const {
    return std::tie(io_block, slave) < std::tie(other.io_block, other.slave);
  }
};

/// What has to be asked for a wish: writes first, then the cheapest block reads of each slave, by slave,
/// table and address; without phases. A slave in `limits` gets no more reads a second than that says, any
/// other what its intake takes. Refuses as make_poll_plan says.
[[nodiscard]] Result<std::vector<PlannedRequest>, std::vector<Diagnostic>> plan_requests(
    const PollWish& wish, const std::map<SlaveKey, double>& limits);

/// "the read of 12 registers of soak-heater from 0x0040 (400065)"
[[nodiscard]] std::string describe(const PlannedRequest& request);

}  // namespace emberline::polling

#pragma once

#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/rehearsal/block_plan.hpp"
#include "sim/rehearsal/stand_in_requests.hpp"

namespace emberline::rehearsal {

/// The value of a target in the answer to a read of `range` (SI); nothing if it is not in there.
[[nodiscard]] std::optional<double> value_in(const Target& target, modbus::AddressRange range,
                                             const StandInRequests::Answer& answer);
/// What a read of one target alone asks for.
[[nodiscard]] modbus::AddressRange range_of(const Target& target);

/// The values a stand-in read last, as far as its conditions ask for them.
class StandInReadings {
 public:
  explicit StandInReadings(const MasterSpec& master);

  /// Where the value of a name is kept; nothing if no condition asks for it.
  [[nodiscard]] std::optional<std::size_t> place_of(std::string_view name) const;
  void set(std::size_t place, double value) { values_[place] = value; }
  [[nodiscard]] double at(std::size_t place) const { return values_[place]; }

 private:
  void watch(const Trigger& trigger);
  void watch(const std::vector<ProgramStep>& program);
  std::vector<std::string> names_;
  std::vector<double> values_;  ///< not a number: never read
};

/// A block of a read step, with the values in it that some condition asks for.
struct WatchedBlock {
  BlockRead block;
  struct Part {
    const Target* target;
    std::size_t place;
  };
  std::vector<Part> parts;
};
/// The requests of a read step: its `block`, or its `reads` merged.
[[nodiscard]] std::vector<WatchedBlock> watched_blocks(const ProgramStep& step,
                                                       const StandInReadings& readings);

/// A trigger with the places of its values.
class WatchedTrigger {
 public:
  WatchedTrigger(const Trigger& trigger, const StandInReadings& readings);
  /// Whether all of it holds; returns and refusals of slaves count from `since` on.
  [[nodiscard]] bool holds(const StandInReadings& readings, const StandInRequests& requests,
                           SimTime since) const;

 private:
  const Trigger* trigger_;
  std::vector<std::size_t> places_;
};

/// "soak-heater.state inhibited and cabinet is lost for 2 s"
[[nodiscard]] std::string describe(const Trigger& trigger, Duration holds_for);

}  // namespace emberline::rehearsal

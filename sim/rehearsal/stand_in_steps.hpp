#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "sim/rehearsal/pi_loop.hpp"
#include "sim/rehearsal/profile.hpp"
#include "sim/rehearsal/stand_in_readings.hpp"
#include "sim/rehearsal/stand_in_requests.hpp"

namespace emberline::rehearsal {

/// One line of a program with its place in time and what it remembers from one time to the next.
class StandInStep {
 public:
  StandInStep(const ProgramStep& spec, const StandInReadings& readings);

  /// Everything from its beginning: `start` is when the program, or the state, began.
  void begin(SimTime start);
  [[nodiscard]] std::optional<SimTime> due() const { return due_; }
  /// Sets the next time, and does what falls due now. Periods that were missed are made up for by this one.
  void carry_out(StandInRequests& requests, StandInReadings& readings, MasterLink& link);

 private:
  void reschedule(SimTime now);
  void read(StandInRequests& requests, StandInReadings& readings) const;
  void control(StandInRequests& requests, StandInReadings& readings, const MasterLink& link);
  void ramp(StandInRequests& requests, SimTime now);
  [[nodiscard]] PiLoop fresh_loop() const;

  const ProgramStep* spec_;
  std::optional<WatchedTrigger> when_;
  std::vector<WatchedBlock> blocks_;        ///< read
  std::optional<std::size_t> measured_in_;  ///< control: where conditions look for its measured value
  SimTime start_{};
  std::optional<SimTime> due_;
  PiLoop loop_;
  Profile profile_;
  std::optional<double> measured_;    ///< control: the last that came
  std::optional<SimTime> ramp_from_;  ///< ramp: when it was first carried out
  std::uint16_t count_ = 0;           ///< count: written last
};

}  // namespace emberline::rehearsal

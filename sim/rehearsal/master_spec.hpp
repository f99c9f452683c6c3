#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::rehearsal {

/// One value a stand-in writes.
struct Write {
  Target target;
  double value = 0.0;  ///< SI
};

/// One line of a stand-in's program.
struct ProgramStep {
  /// What the line does each time it falls due.
  enum class Kind : std::uint8_t { read, write, control };
  Kind kind = Kind::read;
  std::optional<SimTime> at;      ///< once, at this time
  std::optional<Duration> every;  ///< first at 0 s, then at whole multiples
  std::vector<Target> reads;      ///< read
  std::vector<Write> writes;      ///< write
  // control: a PI loop. output = gain (e + integral of e over integral_time), e = target - measured, held
  // within 0 and 100 % with the integral stopped at the ends (no wind-up).
  std::optional<Target> output;
  std::optional<Target> measured;
  double target_value = 0.0;  ///< in the measured signal's unit
  double gain = 0.0;          ///< fraction per unit of the measured signal (K)
  Duration integral_time{};   ///< 0: no integral part
};

/// A stand-in: the scripted master that plays the PLC.
struct MasterSpec {
  std::string name;
  std::vector<std::string> lines;  ///< a request goes over the first of these that its slave is on
  Duration timeout = std::chrono::milliseconds{500};  ///< how long it waits for an answer
  int retries = 0;                                    ///< further tries after the first
  std::optional<SimTime> stops;  ///< the program ends here, as when a PLC goes to stop; default: with the run
  std::vector<ProgramStep> program;  ///< in the order of the file
  /// A slave counts as lost after this many requests in a row were given up. While it is lost nothing that
  /// the program would write goes to it, reads go on; `when_lost_writes` go out once when it is lost (to
  /// whichever slave they are for).
  std::optional<int> lost_after;
  std::vector<Write> when_lost_writes;
  std::vector<Write> when_back_writes;  ///< right after the first answer of a slave that was lost
};

}  // namespace emberline::rehearsal

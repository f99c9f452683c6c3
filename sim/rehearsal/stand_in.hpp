#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::rehearsal {

/// What a stand-in can do to the world. Every call blocks until it is through, in whichever clock.
class MasterLink {
 public:
  virtual ~MasterLink() = default;
  /// Why a request brought no data: refused by the slave, or no usable answer in time.
  struct Failure {
    std::optional<modbus::Refusal> refusal;  ///< nothing: no answer
  };
  [[nodiscard]] virtual SimTime now() const = 0;
  /// Waits; false when the run is over and the program has to end.
  [[nodiscard]] virtual bool sleep_until(SimTime at) = 0;
  /// One try of one request over one line.
  virtual Result<std::vector<std::uint16_t>, Failure> read_registers(const std::string& line, int id,
                                                                     modbus::Table table,
                                                                     modbus::AddressRange range) = 0;
  virtual Result<std::vector<bool>, Failure> read_bits(const std::string& line, int id, modbus::Table table,
                                                       modbus::AddressRange range) = 0;
  virtual Result<Done, Failure> write_registers(const std::string& line, int id, std::uint16_t first,
                                                const std::vector<std::uint16_t>& values) = 0;
  virtual Result<Done, Failure> write_bits(const std::string& line, int id, std::uint16_t first,
                                           const std::vector<bool>& values) = 0;
  /// True when the run is over; the program returns as soon as it sees it.
  [[nodiscard]] virtual bool over() const = 0;
  /// Something worth a line in the journal, under the stand-in's name.
  virtual void note(std::string sentence) = 0;
  /// When the power fails next; nothing: it does not. What a request still waits for then does not come.
  virtual void power_fails_at(std::optional<SimTime> at) = 0;
  /// The stand-in has lost its power: connections it had are gone, answers still under way reach nobody.
  virtual void lost_power() = 0;
};

/// Plays a stand-in's program to the end of the run.
///
/// One request at a time. `every` falls due when the program begins and then at whole multiples from there,
/// `at` so long after it. What falls due meanwhile follows in the order of the file, a missed period once.
///
/// States: the steps of the current state come behind those that always run; their times count from the
/// instant the state was entered. Ways out and alarms are looked at after each step, and when a time of
/// theirs
/// (`after`, `for`) is over, before any step of that instant. A change takes effect after the step under way:
/// the new state's on_entry goes out, then its `every` steps fall due at once, with loops, ramps, firing
/// curves and counts from their beginning; what the old state still had to do is not done. A state's ways out
/// are first looked at after the first step in it. First come alarms, then what a loss, a return or an alarm
/// calls for, then the state's own ways in the order of the file: the first that holds.
void play(const MasterSpec& master, MasterLink& link);

}  // namespace emberline::rehearsal

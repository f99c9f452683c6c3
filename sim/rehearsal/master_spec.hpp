#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/serial_format.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/rehearsal/condition.hpp"
#include "sim/rehearsal/profile.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::rehearsal {

/// One value a stand-in writes.
struct Write {
  Target target;
  double value = 0.0;  ///< SI
};

/// A value that moves from one end to the other and stays there.
struct RampWrite {
  Target target;
  double from = 0.0;  ///< SI
  double to = 0.0;    ///< SI
  Duration over{};    ///< how long it takes; 0: at once
};

/// Something a stand-in has to see of a slave.
struct SlaveCondition {
  /// lost: counts as lost now. back: does not any more, and came back since the state was entered (an alarm:
  /// since the program began). refused: one of the requests made to it was last answered by an exception,
  /// since the state was entered (an alarm: since the program began).
  enum class Kind : std::uint8_t { lost, back, refused };
  Kind kind = Kind::lost;
  bool io_block = false;  ///< whose index `slave` is
  std::size_t slave = 0;
  std::string slave_name;
};

/// What a stand-in waits for: all of it has to hold, in what it read last. A value that was never read makes
/// nothing true, and neither does one that is not a number.
struct Trigger {
  std::vector<Condition> readings;  ///< of signals that the program reads, by the names it reads them
  std::vector<SlaveCondition> slaves;
  [[nodiscard]] bool empty() const { return readings.empty() && slaves.empty(); }
};

/// One line of a stand-in's program.
struct ProgramStep {
  /// What the line does each time it falls due.
  enum class Kind : std::uint8_t { read, write, control, ramp, count };
  Kind kind = Kind::read;
  std::optional<SimTime> at;      ///< once, so long after the program (in a state: the state) began
  std::optional<Duration> every;  ///< first `phase` after that beginning, then at whole multiples from there
  Duration phase{};               ///< less than `every`
  Trigger when;                   ///< carried out only while this holds; otherwise left out this time
  bool on_change = false;     ///< write, control, ramp: not sent while the slave took the same registers from
                              ///< this stand-in last
  std::vector<Target> reads;  ///< read
  /// read: the one block that is asked for, with all of `reads` in it, which are of one slave and table;
  /// nothing: they are merged as plan_blocks does.
  std::optional<modbus::AddressRange> block;
  std::vector<Write> writes;     ///< write
  std::vector<RampWrite> ramps;  ///< ramp: the values of now; they start when the step is first carried out
  std::optional<Target> output;  ///< control: what it acts on; count: where 1, 2, ... 65535, 1 go
  // control: a PI loop. output = gain (e + integral of e over integral_time), e = target - measured, held
  // within at_least and at_most.
  std::optional<Target> measured;
  double target_value = 0.0;            ///< in the measured signal's unit
  std::vector<ProfileSegment> profile;  ///< instead of target_value, from the first measured value on
  double gain = 0.0;                    ///< fraction per unit of the measured signal (K)
  Duration integral_time{};             ///< 0: no integral part
  double at_least = 0.0;                ///< the output's lower end
  double at_most = 1.0;                 ///< and its upper one
  bool winds_up = false;                ///< the integral goes on at the ends
  bool integrates_while_lost = false;   ///< and while the slave of the output counts as lost
  /// What becomes of the output when the measured value does not come: nothing is written; 0 % is; or the
  /// loop goes on with the value before.
  enum class Stale : std::uint8_t { hold, zero, use_last };
  Stale stale = Stale::hold;
};

/// A way out of a state: after some time in it, or when something holds.
struct Transition {
  std::size_t to = 0;             ///< index of the state
  std::optional<Duration> after;  ///< so long after it was entered
  Trigger when;                   ///< if not `after`
  Duration holds_for{};           ///< `when` has to hold so long without a break, as seen after each step
};

/// One state of a stand-in's program.
struct MasterState {
  std::string name;
  std::vector<Write> on_entry;       ///< go out first, to whichever slave, lost or not
  std::vector<ProgramStep> program;  ///< carried out while in the state, behind the steps that always run
  std::vector<Transition> go;        ///< the first that holds is taken
};

/// Something that is watched for in every state.
struct Alarm {
  std::string name;
  Trigger when;
  Duration holds_for{};
  std::vector<Write> writes;         ///< once when it comes, to whichever slave, lost or not
  std::optional<std::size_t> go;     ///< and then to this state
  std::vector<Write> clears_writes;  ///< once when it goes
};

/// A power failure of the stand-in: it ends at `at` and begins anew so long after, with everything forgotten.
struct Restart {
  SimTime at;
  Duration after{};
};

/// A stand-in: the scripted master that plays the PLC.
struct MasterSpec {
  std::string name;
  std::vector<std::string> lines;  ///< a request goes over the first of these that its slave is on
  Duration timeout = std::chrono::milliseconds{500};  ///< how long it waits for an answer
  int retries = 0;                                    ///< further tries after the first
  Duration retry_after{};                             ///< pause before each of them
  std::optional<Duration> poll_lost_every;  ///< a slave that counts as lost is asked no more often; default:
                                            ///< as often as any
  std::optional<SerialFormat> serial;  ///< its own idea of pty and serial-port lines; default: the lines' own
  SimTime starts{};                    ///< the program begins here
  std::optional<SimTime> stops;  ///< the program ends here, as when a PLC goes to stop; default: with the run
  std::vector<Restart> restarts;     ///< by time; each begins after the one before has begun anew
  std::vector<ProgramStep> program;  ///< always carried out, in the order of the file
  std::vector<MasterState> states;   ///< none: the program alone
  std::size_t starts_in = 0;         ///< index of the first state
  std::vector<Alarm> alarms;
  /// A slave counts as lost after this many requests in a row were given up. While it is lost nothing that
  /// the program would write goes to it, reads go on; `when_lost_writes` go out once when it is lost (to
  /// whichever slave they are for).
  std::optional<int> lost_after;
  std::vector<Write> when_lost_writes;
  std::optional<std::size_t> when_lost_go;  ///< and then to this state
  std::vector<Write> when_back_writes;      ///< right after the first answer of a slave that was lost
  std::optional<std::size_t> when_back_go;
};

}  // namespace emberline::rehearsal

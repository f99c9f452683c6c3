#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/bench/signal.hpp"
#include "sim/faults/action.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::rehearsal {

/// A comparison of one signal (or one written value) with a constant.
struct Condition {
  /// How the signal stands to `a` and `b`; include and exclude are for bits.
  enum class Comparator : std::uint8_t {
    equals,
    not_equal,
    above,
    below,
    at_least,
    at_most,
    between,
    near,
    include,
    exclude,
  };
  std::string name;  ///< of the signal, as written
  bench::SignalId signal;
  bench::SignalInfo info;
  Comparator comparator = Comparator::equals;
  double a = 0.0;  ///< SI; between: lower end; near: the value; include/exclude: bit mask
  double b = 0.0;  ///< between: upper end; near: tolerance
};

/// A moment expectations hang on: a time, or the n-th time an entry of the timeline is carried out.
struct Anchor {
  std::optional<SimTime> at;
  std::string action_word;  ///< with no `at`: "cut"
  faults::Target action_target;
  std::string text;  ///< for messages: "cut field", "10 s"
  int nth = 1;
};

/// Something that has to come true, with the interval in which it counts.
struct Expectation {
  /// `within`: true at some instant; `always`, `never`: at every instant, at none; `first_write`: of the
  /// first write of a point in the interval.
  enum class Kind : std::uint8_t { within, always, never, first_write };
  std::string name;  ///< as reports show it
  Kind kind = Kind::within;
  std::optional<Anchor> from;   ///< `from` or `after`; default: start of the run
  std::optional<Anchor> until;  ///< the interval ends just before it; default: end of the run
  Duration not_before{};        ///< within: `that` is true at no instant before anchor + not_before
  std::optional<Duration>
      within;            ///< within: true at some instant up to anchor + within; default: end of the interval
  bool becomes = false;  ///< within: already being true does not count, it has to turn true
  std::vector<Condition> conditions;  ///< AND; first_write: one, on the written point
  Place place;                        ///< in the scenario's file, for messages
};

/// A fault or an operator's action, and when it happens.
struct TimelineEntry {
  SimTime at;
  faults::Action action;
};

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

/// What moves time on: the loop as fast as it can (stepped), or the clock of the machine (wall).
enum class Clock : std::uint8_t { stepped, wall };

/// A rehearsal as its file gives it, with the bench it runs on.
struct ScenarioSpec {
  std::string title;
  std::string why;         ///< what is rehearsed, for reports
  std::string file_stem;   ///< of the scenario's file, for reports: "cable-pulled-latch"
  std::string bench_file;  ///< as found on disk
  bench::BenchSpec bench;
  Clock clock = Clock::stepped;
  SimTime ends;  ///< of the run, in simulated time
  std::vector<MasterSpec> masters;
  std::vector<TimelineEntry> timeline;  ///< in the order of time, then of the file
  std::vector<Expectation> expectations;
};

}  // namespace emberline::rehearsal

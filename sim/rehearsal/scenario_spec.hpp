#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/bench/bench_state.hpp"
#include "sim/bench/signal.hpp"
#include "sim/faults/action.hpp"
#include "sim/polling/poll_plan.hpp"
#include "sim/rehearsal/evidence.hpp"
#include "sim/rehearsal/expectation.hpp"
#include "sim/rehearsal/lesson_step.hpp"
#include "sim/rehearsal/master_spec.hpp"

namespace emberline::rehearsal {

/// A fault or an operator's action, and when it happens.
struct TimelineEntry {
  /// A time, or what it waits for. Conditions are looked at from the instant of the entry before it in the
  /// file on, holding already counts; the first entry: from the start.
  Anchor when;
  std::optional<faults::Action> action;  ///< nothing: a prompt and no more
  std::string name;                      ///< by which others refer to it; empty: none
  std::string ask;  ///< what a human is asked to do; empty: nobody is asked. The bench carries the action out
                    ///< itself, unless a human is there: then the human does, and the bench does not
  bool from_start = false;  ///< conditions count from the start of the run, as those of any other anchor do
  bool takes_back = false;  ///< made by the `for` of the entry before it, so it is no entry of the file
  Place place;              ///< in the scenario's file, for messages
};

/// A signal that is recorded for reports although no expectation speaks of it.
struct RecordedSignal {
  std::string name;
  bench::SignalId signal;
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
  /// What stand-ins poll by; kept also where a real master takes their place.
  std::vector<std::shared_ptr<const polling::PollPlan>> poll_plans;
  std::vector<TimelineEntry> timeline;  ///< in the order of the file
  std::vector<Expectation> expectations;
  std::vector<RecordedSignal> record;
  std::vector<LessonStep> lesson;  ///< how it is walked through with a class; empty: nobody has said
  bool lesson_is_made = false;     ///< from a scenario that was not written as one: nobody judges it
  std::optional<bench::BenchState> starts_from;  ///< a state that an earlier run saved; default: cold
  std::vector<InputFile> files;  ///< scenario, bench, register tables, saved state, poll plans
};

}  // namespace emberline::rehearsal

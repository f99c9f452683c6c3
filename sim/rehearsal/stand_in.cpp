#include "sim/rehearsal/stand_in.hpp"

#include <algorithm>
#include <cstddef>
#include <deque>
#include <string>
#include <utility>

#include "sim/base/duration_text.hpp"
#include "sim/rehearsal/stand_in_readings.hpp"
#include "sim/rehearsal/stand_in_requests.hpp"
#include "sim/rehearsal/stand_in_steps.hpp"

namespace emberline::rehearsal {

namespace {

void earliest(std::optional<SimTime>& first, std::optional<SimTime> other) {
  if (other && (!first || *other < *first)) first = other;
}

/// Something that has to hold for some time, as seen whenever it is looked at.
class Watch {
 public:
  Watch(const Trigger& when, Duration holds_for, const StandInReadings& readings)
      : when_(when, readings), holds_for_(holds_for) {}

  /// Looks now; returns and refusals count from `since` on. True when it has held for so long.
  bool look(const StandInReadings& readings, const StandInRequests& requests, SimTime since, SimTime now) {
    if (!when_.holds(readings, requests, since)) {
      holds_since_.reset();
      return false;
    }
    if (!holds_since_) holds_since_ = now;
    return now - *holds_since_ >= holds_for_;
  }
  [[nodiscard]] bool holds() const { return holds_since_.has_value(); }
  /// When its time is over if nothing is read until then.
  [[nodiscard]] std::optional<SimTime> due() const {
    return holds_since_ ? std::optional(*holds_since_ + holds_for_) : std::nullopt;
  }
  void forget() { holds_since_.reset(); }

 private:
  WatchedTrigger when_;
  Duration holds_for_;
  std::optional<SimTime> holds_since_;
};

/// A stand-in from one beginning to the next.
class Player {
 public:
  Player(const MasterSpec& master, MasterLink& link, SimTime start, std::optional<SimTime> ends)
      : master_(master), link_(link), start_(start), requests_(master, link, ends), readings_(master) {
    for (const ProgramStep& step : master.program) steps_.emplace_back(step, readings_);
    for (const MasterState& state : master.states) states_.emplace_back(state, readings_);
    for (const Alarm& alarm : master.alarms) alarms_.emplace_back(alarm, readings_);
    ends_ = ends;
  }

  void run() {
    for (StandInStep& step : steps_) step.begin(start_);
    if (!states_.empty()) {
      link_.note("begins in " + master_.states[master_.starts_in].name);
      enter(master_.starts_in, start_);
    }
    for (;;) {
      // A round takes what is due now, in the order of the file; what falls due meanwhile waits for the
      // next round, so that a greedy line cannot starve those behind it.
      const SimTime round = link_.now();
      if (requests_.halted()) return;
      if (const auto watched = watches_due(); watched && *watched <= round) look();
      for (StandInStep& step : steps_) {
        if (!carry_out(step, round)) return;
      }
      if (!states_.empty() && !carry_out_state(round)) return;
      std::optional<SimTime> next = watches_due();
      for (const StandInStep& step : steps_) earliest(next, step.due());
      if (!states_.empty()) {
        for (const StandInStep& step : states_[state_].steps) earliest(next, step.due());
      }
      if (!next || (ends_ && *next >= *ends_) || !link_.sleep_until(*next)) return;
    }
  }

 private:
  struct Way {
    Way(const Transition& transition, const StandInReadings& readings)
        : spec(&transition), watch(transition.when, transition.holds_for, readings) {}
    const Transition* spec;
    Watch watch;
  };
  struct State {
    State(const MasterState& state, const StandInReadings& readings) : spec(&state) {
      for (const ProgramStep& step : state.program) steps.emplace_back(step, readings);
      for (const Transition& way : state.go) ways.emplace_back(way, readings);
    }
    const MasterState* spec;
    std::vector<StandInStep> steps;
    std::vector<Way> ways;
  };
  struct WatchedAlarm {
    WatchedAlarm(const Alarm& alarm, const StandInReadings& readings)
        : spec(&alarm), watch(alarm.when, alarm.holds_for, readings) {}
    const Alarm* spec;
    Watch watch;
    bool raised = false;
  };

  /// False when the program is over.
  bool carry_out(StandInStep& step, SimTime round) {
    if (!step.due() || *step.due() > round) return true;
    step.carry_out(requests_, readings_, link_);
    if (requests_.halted()) return false;
    look();
    return !requests_.halted();
  }

  bool carry_out_state(SimTime round) {
    const std::uint64_t entry = entries_;
    for (StandInStep& step : states_[state_].steps) {
      if (!carry_out(step, round)) return false;
      if (entry != entries_) return true;  // the state was left, and what it still had to do with it
    }
    return true;
  }

  /// When a time of an alarm or of a way out is over.
  [[nodiscard]] std::optional<SimTime> watches_due() const {
    std::optional<SimTime> first;
    for (const WatchedAlarm& alarm : alarms_) {
      if (!alarm.raised) earliest(first, alarm.watch.due());
    }
    if (states_.empty()) return first;
    for (const Way& way : states_[state_].ways) {
      earliest(first, way.spec->after ? std::optional(entered_ + *way.spec->after) : way.watch.due());
    }
    return first;
  }

  void look() {
    if (alarms_.empty() && states_.empty()) return;
    std::optional<StandInRequests::Wish> wish = requests_.take_wish();
    for (WatchedAlarm& alarm : alarms_) {
      if (!look_at(alarm)) continue;
      if (requests_.halted()) return;
      // A way that leads nowhere must not take the place of a loss that has just been noticed.
      if (alarm.spec->go && *alarm.spec->go != state_)
        wish = {*alarm.spec->go, "alarm '" + alarm.spec->name + "'"};
    }
    if (states_.empty()) return;
    if (wish && wish->to != state_) return change(wish->to, wish->why);
    for (Way& way : states_[state_].ways) {
      const Transition& spec = *way.spec;
      if (spec.after) {
        if (link_.now() >= entered_ + *spec.after)
          return change(spec.to, "after " + format_duration(*spec.after));
      } else if (way.watch.look(readings_, requests_, entered_, link_.now())) {
        return change(spec.to, describe(spec.when, spec.holds_for));
      }
    }
  }

  /// True when the alarm comes.
  bool look_at(WatchedAlarm& alarm) {
    const bool held = alarm.watch.look(readings_, requests_, start_, link_.now());
    if (held && !alarm.raised) {
      alarm.raised = true;
      link_.note("alarm '" + alarm.spec->name +
                 "' comes: " + describe(alarm.spec->when, alarm.spec->holds_for));
      send(alarm.spec->writes);
      return true;
    }
    if (alarm.raised && !alarm.watch.holds()) {
      alarm.raised = false;
      link_.note("alarm '" + alarm.spec->name + "' goes");
      send(alarm.spec->clears_writes);
    }
    return false;
  }

  void change(std::size_t to, const std::string& why) {
    link_.note("goes from " + states_[state_].spec->name + " to " + states_[to].spec->name + ": " + why);
    enter(to, link_.now());
  }

  void enter(std::size_t to, SimTime at) {
    state_ = to;
    entered_ = at;
    ++entries_;
    State& state = states_[to];
    for (Way& way : state.ways) way.watch.forget();
    for (StandInStep& step : state.steps) step.begin(at);
    send(state.spec->on_entry);
  }

  void send(const std::vector<Write>& writes) {
    for (const Write& write : writes) {
      if (requests_.halted()) return;
      requests_.write_anyway(write.target, write.value);
    }
  }

  const MasterSpec& master_;
  MasterLink& link_;
  SimTime start_;
  std::optional<SimTime> ends_;
  StandInRequests requests_;
  StandInReadings readings_;
  std::vector<StandInStep> steps_;
  std::vector<State> states_;
  std::vector<WatchedAlarm> alarms_;
  std::size_t state_ = 0;
  SimTime entered_{};
  std::uint64_t entries_ = 0;  ///< how often a state was entered
};

}  // namespace

void play(const MasterSpec& master, MasterLink& link) {
  SimTime start = master.starts;
  for (std::size_t life = 0;; ++life) {
    if (start > link.now() && !link.sleep_until(start)) return;
    const bool fails = life < master.restarts.size();
    std::optional<SimTime> ends = master.stops;
    if (fails) earliest(ends, master.restarts[life].at);
    link.power_fails_at(fails && ends == master.restarts[life].at ? ends : std::nullopt);
    Player(master, link, start, ends).run();
    if (!fails || link.over()) return;
    const Restart& failure = master.restarts[life];
    if (master.stops && *master.stops <= failure.at) return;
    if (failure.at > link.now() && !link.sleep_until(failure.at)) return;
    link.note("loses its power");
    link.lost_power();
    start = failure.at + failure.after;
    if (master.stops && *master.stops <= start) return;
    if (start > link.now() && !link.sleep_until(start)) return;
    link.note("begins anew, with everything forgotten");
  }
}

}  // namespace emberline::rehearsal

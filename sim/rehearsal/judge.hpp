#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/rehearsal/judge_heard.hpp"
#include "sim/rehearsal/judge_samples.hpp"
#include "sim/rehearsal/moments.hpp"
#include "sim/rehearsal/question.hpp"
#include "sim/rehearsal/scenario_spec.hpp"
#include "sim/rehearsal/timeline.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::rehearsal {

/// Holds the expectations of a scenario against the running bench. Looked at after every instant at which
/// anything happened and at every instant of the grid, when everything of that instant has been done.
/// Meaning:
///  - an interval runs from its anchor, included, to just before `until`, or to the end of the run, included;
///    a length of its own (length_of) ends it too, that instant included;
///  - `that`, `eventually` (within): true at some instant of the interval, at none before anchor +
///  not_before,
///    and by anchor + within; being true already counts unless it has to become true; with `for`, true from
///    such an instant on at every instant for so long, the last one included, all of them in the interval;
///  - `always`: true at every instant of the interval; `never`: true at none;
///  - `comes` (count): comes to hold so many times; holding at the beginning counts;
///  - `sequence`: each step at or after the instant of the one before, each time the first that comes;
///  - what a master did (conduct): see ConductJudge; what happened in the interval, both ends as above.
/// Nothing passes by silence: an anchor that never comes, a write that is never made, a signal without a
/// value where something must not be, an interval that is over before its own length, one that begins with
/// the end of the run, or a run that ends first is "could not be judged".
///
/// What an expectation being met brings about at that very instant is done before those are looked at that do
/// not bring anything about themselves: they see the instant as it is in the end.
class Judge final : public bench::EventSource {
 public:
  /// All must outlive the judge.
  Judge(const ScenarioSpec& scenario, const bench::Bench& bench, Moments& moments, const Timeline& timeline);
  Judge(const Judge&) = delete;
  Judge& operator=(const Judge&) = delete;

  [[nodiscard]] std::optional<SimTime> next() const override;
  void run(SimTime now) override;
  /// To be told of every write that reaches a unit, and of every request (MasterWatch::on_request).
  void write_seen(const unit::WriteSeen& write);
  void request_seen(const bench::RequestSeen& request, bool again);
  /// Every master counts, whichever is named: a real one has come instead of the stand-ins. Before the start.
  void let_any_master_count() { scene_.any_master = true; }
  /// The run is over: what is still open is decided now. Once.
  [[nodiscard]] std::vector<Outcome> finish(SimTime now);
  /// The same where the run is over now whenever it was meant to end: what lasts to the end has lasted.
  [[nodiscard]] std::vector<Outcome> finish_early(SimTime now);

 private:
  struct Case {
    const Expectation* expectation;
    std::unique_ptr<Question> question{};
    Samples::Columns columns{};
    std::optional<Moments::Id> from_id{};
    std::optional<Moments::Id> until_id{};
    bool begun = false;
    SimTime from{};
    std::optional<SimTime> last{};  ///< of the interval, by its own length
    Outcome outcome{};
    bool decided = false;
    std::size_t told = 0;  ///< of what was heard at this instant
  };
  /// How an interval ended.
  enum class End : std::uint8_t { none, until, length, run };
  void look(Case& item, SimTime now);
  void begin(Case& item, SimTime from, SimTime now);
  void tell(Case& item, std::optional<SimTime> until);
  void close(Case& item, SimTime now, End end);
  void forget_heard();
  [[nodiscard]] std::string came_early(const Case& item, SimTime at) const;
  void close_at_run_end(Case& item, SimTime now);
  void decide(Case& item, const Finding& finding, SimTime now, End end);
  void decide_unjudged(Case& item, SimTime now, const std::string& why);
  void drop_decided();
  void find_next(SimTime now);

  Scene scene_;
  Moments& moments_;
  const Timeline& timeline_;
  SimTime ends_;  ///< when the run is meant to end
  std::vector<Case> cases_;
  std::vector<Case*> open_;  ///< not decided yet, in met_order()
  Samples samples_;
  HeardAtOnce heard_;
  bool hears_ = false;  ///< somebody still open wants to know of writes and requests
  std::optional<SimTime> next_{SimTime{}};
};

}  // namespace emberline::rehearsal

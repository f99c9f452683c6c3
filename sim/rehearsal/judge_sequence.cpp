// `sequence`: one thing after another, each at or after the instant of the one before.
#include <algorithm>
#include <vector>

#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/question.hpp"

namespace emberline::rehearsal {
namespace {

class Sequence final : public Question {
 public:
  Sequence(const Expectation& expectation, const Scene& scene)
      : expectation_(expectation), steps_(expectation.sequence), scene_(scene) {
    for (const auto& step : steps_) hears_ = hears_ || step.write.has_value();
  }

  void begin(SimTime from) override { before_ = from; }
  [[nodiscard]] bool hears() const override { return hears_; }
  void write(const unit::WriteSeen& write) override;
  [[nodiscard]] std::optional<Finding> look(SimTime now) override;
  [[nodiscard]] std::optional<SimTime> next() const override;
  [[nodiscard]] Finding over(SimTime end, bool by_run) override;

 private:
  /// A write that some steps wait for.
  struct Heard {
    SimTime at;
    std::vector<std::size_t> steps;
  };
  /// When the next step came, if it did; what brought it about is used up then.
  [[nodiscard]] std::optional<SimTime> coming(SimTime now, std::optional<SimTime> limit);
  [[nodiscard]] std::optional<Moments::Happening> happening() const {
    return scene_.moments.first_since(*steps_[came_.size()].happens, before_, used_);
  }
  [[nodiscard]] std::optional<SimTime> written();
  [[nodiscard]] std::optional<SimTime> deadline() const;
  [[nodiscard]] Finding failed(SimTime now, std::string happened) const;
  [[nodiscard]] std::string name_of(std::size_t step) const;
  /// "1 (cut field) at 20 s, 2 (...) at 23 s".
  [[nodiscard]] std::string so_far() const;
  [[nodiscard]] std::string missing() const;

  const Expectation& expectation_;
  const std::vector<SequenceStep>& steps_;
  const Scene& scene_;
  bool hears_ = false;
  std::vector<SimTime> came_;          ///< the steps that are through
  SimTime before_;                     ///< of the step before; at first the beginning
  std::vector<std::size_t> used_;      ///< happenings: each is good for one step
  std::vector<Heard> heard_;           ///< in order, those of this instant, and not used by a step yet
  std::optional<std::string> unseen_;  ///< an instant at which nobody could tell of a step
  std::size_t unseen_step_ = 0;        ///< of that one
};

void Sequence::write(const unit::WriteSeen& write) {
  Heard heard{write.at, {}};
  for (std::size_t i = came_.size(); i < steps_.size(); ++i)
    if (steps_[i].write && matches_write(*steps_[i].write, scene_.bench.spec(), write, scene_.any_master))
      heard.steps.push_back(i);
  if (!heard.steps.empty()) heard_.push_back(std::move(heard));
}

std::optional<Finding> Sequence::look(SimTime now) {
  while (came_.size() < steps_.size()) {
    const auto limit = deadline();
    if (const auto at = coming(now, limit)) {
      came_.push_back(*at);
      before_ = *at;
      continue;
    }
    if (limit && now >= *limit) return failed(now, missing());
    // What came at this instant may still count in a further round of it.
    std::erase_if(heard_, [&](const Heard& heard) { return heard.at < now; });
    return std::nullopt;
  }
  // A step that may have come earlier than it was seen to leaves less time to those behind it.
  if (unseen_ && std::any_of(steps_.begin() + static_cast<std::ptrdiff_t>(unseen_step_) + 1, steps_.end(),
                             [](const SequenceStep& step) { return step.within.has_value(); }))
    return Finding{Outcome::Result::not_judged, {}, *unseen_, now};
  return Finding{Outcome::Result::passed, {}, so_far(), now};
}

std::optional<SimTime> Sequence::coming(SimTime now, std::optional<SimTime> limit) {
  const auto& step = steps_[came_.size()];
  const SimTime last = limit ? std::min(now, *limit) : now;
  if (step.write) {
    const auto at = written();
    return at && *at <= last ? at : std::nullopt;
  }
  if (step.happens) {
    const auto found = happening();
    if (!found || found->at > last) return std::nullopt;
    used_.push_back(found->number);
    return found->at;
  }
  if (now > last) return std::nullopt;
  const Held state = held(step.conditions, scene_.bench, now);
  if (state.by_silence() && !unseen_) {
    unseen_ = without_value(*state.unseen, now) + ", while " + name_of(came_.size()) + " was waited for";
    unseen_step_ = came_.size();
  }
  return state.for_certain() ? std::optional(now) : std::nullopt;
}

std::optional<SimTime> Sequence::written() {
  // One write is good for one step; the next step that waits for one takes a later one.
  for (auto heard = heard_.begin(); heard != heard_.end(); ++heard) {
    if (heard->at < before_) continue;
    for (const auto step : heard->steps) {
      if (step != came_.size()) continue;
      const auto at = heard->at;
      heard_.erase(heard);
      return at;
    }
  }
  return std::nullopt;
}

std::optional<SimTime> Sequence::deadline() const {
  const auto& within = steps_[came_.size()].within;
  return within ? std::optional(before_ + *within) : std::nullopt;
}

std::optional<SimTime> Sequence::next() const {
  if (came_.size() == steps_.size()) return std::nullopt;
  auto first = deadline();
  const auto found = steps_[came_.size()].happens ? happening() : std::nullopt;
  if (found && (!first || found->at < *first)) first = found->at;
  return first;
}

Finding Sequence::over(SimTime end, bool by_run) {
  const auto limit = deadline();
  if (by_run && limit && *limit > end)
    return {
        Outcome::Result::not_judged,
        {},
        "the run ended first, at " + words_of(end) + ", while " + name_of(came_.size()) + " was waited for",
        end};
  return failed(end, missing());
}

Finding Sequence::failed(SimTime now, std::string happened) const {
  if (unseen_) return {Outcome::Result::not_judged, {}, *unseen_, now};
  std::string expected = "one after another ";
  for (std::size_t i = 0; i < steps_.size(); ++i) expected += (i > 0 ? ", " : "") + name_of(i);
  return {Outcome::Result::failed, std::move(expected), std::move(happened), now};
}

std::string Sequence::name_of(std::size_t step) const {
  return std::to_string(step + 1) + " (" + steps_[step].text + ")";
}

std::string Sequence::so_far() const {
  std::string text;
  for (std::size_t i = 0; i < came_.size(); ++i)
    text += (i > 0 ? ", " : "") + name_of(i) + " at " + words_of(came_[i]);
  return text;
}

std::string Sequence::missing() const {
  const std::size_t step = came_.size();
  const auto& within = steps_[step].within;
  std::string text = name_of(step) + " did not come";
  if (within) text += " within " + words_of(*within);
  if (step > 0) text += " after " + name_of(step - 1) + " at " + words_of(before_);
  if (step > 1) text += "; so far " + so_far();
  if (!steps_[step].happens) return text;
  const auto early = scene_.moments.first_since(*steps_[step].happens, SimTime{});
  return early && early->at < before_ ? text + "; it came before, at " + words_of(early->at) : text;
}

}  // namespace

std::unique_ptr<Question> ask_sequence(const Expectation& expectation, const Scene& scene) {
  return std::make_unique<Sequence>(expectation, scene);
}

}  // namespace emberline::rehearsal

// `comes`: how often conditions come to hold.
#include <limits>

#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/question.hpp"

namespace emberline::rehearsal {
namespace {

class Count final : public Question {
 public:
  Count(const Expectation& expectation, const Scene& scene)
      : expectation_(expectation),
        scene_(scene),
        least_(expectation.at_least.value_or(0)),
        most_(expectation.at_most.value_or(std::numeric_limits<int>::max())) {}

  void begin(SimTime /*from*/) override {}
  [[nodiscard]] std::optional<Finding> look(SimTime now) override {
    const auto [all, unseen] = held(expectation_.conditions, scene_.bench, now);
    if (unseen != nullptr) {
      if (!unseen_) unseen_ = without_value(*unseen, now);
      return std::nullopt;  // neither come nor gone
    }
    const bool before = std::exchange(held_, all);
    if (!all || before) return std::nullopt;
    ++count_;
    last_ = now;
    if (count_ > most_) return found(Outcome::Result::failed, now);
    // More can only spoil it where there is a most.
    if (count_ >= least_ && !expectation_.at_most) return found(Outcome::Result::passed, now);
    return std::nullopt;
  }
  [[nodiscard]] Finding over(SimTime end, bool /*by_run*/) override {
    if (unseen_) return {Outcome::Result::not_judged, {}, *unseen_, end};
    return found(count_ < least_ ? Outcome::Result::failed : Outcome::Result::passed, end);
  }

 private:
  [[nodiscard]] Finding found(Outcome::Result result, SimTime at) const {
    const std::string what = words_of(expectation_.conditions);
    const std::string came = count_ == 0 ? "never came" : "came " + times(count_);
    if (result == Outcome::Result::passed) return {result, {}, what + " " + came, at};
    return {result, what + " to come " + wanted(),
            "it " + came + (last_ ? ", last at " + rehearsal::words_of(*last_) : ""), at};
  }
  [[nodiscard]] std::string wanted() const {
    if (most_ == 0) return "never";
    if (expectation_.at_least == expectation_.at_most) return "exactly " + times(least_);
    if (!expectation_.at_most) return "at least " + times(least_);
    if (!expectation_.at_least) return "at most " + times(most_);
    return "at least " + times(least_) + " and at most " + times(most_);
  }

  const Expectation& expectation_;
  const Scene& scene_;
  int least_;
  int most_;
  int count_ = 0;
  bool held_ = false;  ///< holding at the beginning counts
  std::optional<SimTime> last_;
  std::optional<std::string> unseen_;  ///< an instant at which nobody could tell
};

}  // namespace

std::unique_ptr<Question> ask_count(const Expectation& expectation, const Scene& scene) {
  return std::make_unique<Count>(expectation, scene);
}

}  // namespace emberline::rehearsal

// `always` and `never`: at every instant of an interval, or at none.
#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/question.hpp"

namespace emberline::rehearsal {
namespace {

class Interval final : public Question {
 public:
  Interval(const Expectation& expectation, const Scene& scene)
      : expectation_(expectation), scene_(scene), never_(expectation.kind == Expectation::Kind::never) {}

  void begin(SimTime /*from*/) override {}
  [[nodiscard]] std::optional<Finding> look(SimTime now) override {
    const auto [all, unseen] = held(expectation_.conditions, scene_.bench, now);
    // What has no value is not below anything either: `always` says that it is.
    if (unseen != nullptr && (never_ || all)) {
      if (!unseen_) unseen_ = without_value(*unseen, now);
      return std::nullopt;
    }
    if (all != never_) return std::nullopt;
    return Finding{Outcome::Result::failed, words(),
                   "at " + words_of(now) + ": " + values_of(expectation_.conditions, scene_.bench, now), now};
  }
  [[nodiscard]] Finding over(SimTime end, bool /*by_run*/) override {
    if (unseen_) return {Outcome::Result::not_judged, {}, *unseen_, end};
    return {Outcome::Result::passed, {}, words(), end};
  }

 private:
  [[nodiscard]] std::string words() const {
    return (never_ ? "never " : "always ") + words_of(expectation_.conditions) +
           (expectation_.holds_for ? " for " + words_of(*expectation_.holds_for) : "");
  }

  const Expectation& expectation_;
  const Scene& scene_;
  bool never_;
  std::optional<std::string> unseen_;  ///< an instant at which nobody could tell
};

}  // namespace

std::unique_ptr<Question> ask_interval(const Expectation& expectation, const Scene& scene) {
  return std::make_unique<Interval>(expectation, scene);
}

}  // namespace emberline::rehearsal

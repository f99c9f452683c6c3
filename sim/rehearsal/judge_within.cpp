// `that` and `eventually`: true at some instant, in time, and for long enough.
#include <algorithm>

#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/question.hpp"

namespace emberline::rehearsal {
namespace {

class Within final : public Question {
 public:
  Within(const Expectation& expectation, const Scene& scene) : expectation_(expectation), scene_(scene) {}

  [[nodiscard]] bool looks_before() const override { return expectation_.becomes; }
  void before(SimTime now) override {
    const Held state = held(expectation_.conditions, scene_.bench, now);
    unseen_.reset();
    see(state, now);
  }
  void begin(SimTime from) override {
    from_ = from;
    if (expectation_.within) deadline_ = from + *expectation_.within;
  }
  [[nodiscard]] std::optional<Finding> look(SimTime now) override;
  [[nodiscard]] std::optional<SimTime> next() const override {
    return stretch_ ? *stretch_ + holds_for() : deadline_;
  }
  [[nodiscard]] Finding over(SimTime end, bool by_run) override;

 private:
  /// What a look says: without a value it is neither so nor not so.
  void see(const Held& state, SimTime now) {
    if (state.unseen == nullptr) held_ = state.all;
    if ((state.by_silence() || (expectation_.becomes && state.unseen != nullptr)) && !unseen_)
      unseen_ = without_value(*state.unseen, now);
  }
  [[nodiscard]] Duration holds_for() const { return expectation_.holds_for.value_or(Duration{}); }
  [[nodiscard]] Finding failed(SimTime now, std::string happened) const;
  [[nodiscard]] Finding passed(SimTime now) const;
  [[nodiscard]] std::string expected() const;
  /// "for 5 s", or nothing.
  [[nodiscard]] std::string so_long() const {
    return expectation_.holds_for ? " for " + words_of(holds_for()) : "";
  }
  [[nodiscard]] std::string longest() const;

  const Expectation& expectation_;
  const Scene& scene_;
  SimTime from_;
  std::optional<SimTime> deadline_;
  /// At the look before. True at first: that a run starts that way is no becoming. Only kept for `becomes`.
  bool held_ = true;
  std::optional<SimTime> stretch_;     ///< they have been holding since, and that counts
  Duration longest_{};                 ///< of the stretches that were too short
  std::optional<std::string> unseen_;  ///< an instant at which nobody could tell
  bool unseen_early_ = false;          ///< there was one at which it would have been too early
};

std::optional<Finding> Within::look(SimTime now) {
  const Held state = held(expectation_.conditions, scene_.bench, now);
  const bool all = state.for_certain();
  const bool counts = all && (!expectation_.becomes || !held_);
  const bool in_time = !deadline_ || now <= *deadline_;
  if (in_time || stretch_) see(state, now);
  if (state.unseen != nullptr && now - from_ < expectation_.not_before) unseen_early_ = true;
  std::optional<Duration> broken;
  if (!all && stretch_) {
    broken = now - *stretch_;
    longest_ = std::max(longest_, *broken);
    stretch_.reset();
  }
  if (counts && !stretch_ && in_time) {
    if (now - from_ < expectation_.not_before)
      return Finding{Outcome::Result::failed, expected(),
                     "it came after " + words_of(now - from_) + ", too early", now};
    stretch_ = now;
  }
  if (stretch_ && now - *stretch_ >= holds_for()) return passed(now);
  if (stretch_ || !deadline_ || now < *deadline_) return std::nullopt;
  if (broken && now > *deadline_) {
    return failed(now, "it held for " + words_of(*broken) +
                           " only: " + values_of(expectation_.conditions, scene_.bench, now));
  }
  return failed(now, all && in_time ? "it was so all along and never became so"
                                    : "when the time was up: " +
                                          values_of(expectation_.conditions, scene_.bench, now) + longest());
}

Finding Within::over(SimTime end, bool by_run) {
  if (stretch_) {
    const std::string so_far = words_of(end - *stretch_);
    // Held so long that only the last instant is missing.
    if (!by_run && end - *stretch_ >= holds_for())
      return failed(end, "it had held for " + so_far + ", whose last instant is outside the interval");
    if (!by_run) return failed(end, "it had held for " + so_far + " only");
    return {Outcome::Result::not_judged, expected(),
            "the run ended first, at " + words_of(end) + ", when " + words_of(expectation_.conditions) +
                " had held for " + so_far + " of " + words_of(holds_for()),
            end};
  }
  return failed(end, "it did not come" + (by_run ? " until the end at " + words_of(end) : "") + ": " +
                         values_of(expectation_.conditions, scene_.bench, end) + longest());
}

Finding Within::failed(SimTime now, std::string happened) const {
  if (unseen_) return {Outcome::Result::not_judged, {}, *unseen_, now};
  return {Outcome::Result::failed, expected(), std::move(happened), now};
}

Finding Within::passed(SimTime now) const {
  if (unseen_early_ && unseen_) return {Outcome::Result::not_judged, {}, *unseen_, now};
  return {Outcome::Result::passed,
          {},
          words_of(expectation_.conditions) + so_long() + ", " + words_of(*stretch_ - from_),
          now};
}

std::string Within::expected() const {
  std::string text = words_of(expectation_.conditions) + so_long();
  const bool early_counts = expectation_.not_before > Duration{};
  if (early_counts) text += " not before " + words_of(expectation_.not_before);
  if (expectation_.within)
    text += (early_counts ? " and within " : " within ") + words_of(*expectation_.within);
  return text;
}

std::string Within::longest() const {
  return longest_ > Duration{} ? "; the longest it held was " + words_of(longest_) : "";
}

}  // namespace

std::unique_ptr<Question> ask_within(const Expectation& expectation, const Scene& scene) {
  return std::make_unique<Within>(expectation, scene);
}

}  // namespace emberline::rehearsal

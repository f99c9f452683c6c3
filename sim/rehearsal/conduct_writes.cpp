// What is judged by writes alone.
#include <algorithm>
#include <cmath>
#include <deque>
#include <utility>

#include "sim/rehearsal/conduct_rules.hpp"
#include "sim/rehearsal/conduct_words.hpp"
#include "sim/rehearsal/judge_words.hpp"

namespace emberline::rehearsal {
namespace {

using Result = Outcome::Result;

/// What all of them remember.
class WriteRule : public ConductRule {
 public:
  explicit WriteRule(const RuleContext& context)
      : conduct_(context.conduct), bench_(context.bench), by_(context.by) {}

  void write(const unit::WriteSeen& write) final {
    if (!is_of_point(conduct_, bench_, write)) return;
    last_ = note_of(write);
    ++count_;
    add();
  }

 protected:
  /// A write has come: last_, and count_ with it.
  virtual void add() = 0;
  /// "soak-heater.setpoint by plc"
  [[nodiscard]] std::string point() const { return conduct_.name + by_; }
  [[nodiscard]] Finding nobody(SimTime end) const {
    return {Result::not_judged, {}, nobody_did(conduct_, !by_.empty(), "wrote"), end};
  }
  [[nodiscard]] std::string hint() const {
    const auto hint = scaling_hint(*conduct_.condition, last_.asked);
    return hint ? ", " + *hint : "";
  }
  void decide(Result result, std::string expected, std::string happened) {
    ConductRule::decide({result, std::move(expected), std::move(happened), last_.at});
  }

  const Conduct& conduct_;
  const bench::BenchSpec& bench_;
  std::string by_;
  WriteNote last_;
  std::uint64_t count_ = 0;
};

/// first_write, last_write, every_write
class ValueRule final : public WriteRule {
 public:
  using WriteRule::WriteRule;
  [[nodiscard]] Finding finish(SimTime end) const override {
    if (count_ == 0) return nobody(end);
    const bool all = conduct_.kind == ConductKind::every_write;
    if (all && count_ > 1)
      return {Result::passed, expected(), "all " + std::to_string(count_) + " were, the last " + last_.text,
              end};
    const bool good = holds(*conduct_.condition, last_.asked);
    return {good ? Result::passed : Result::failed, expected(), "it was " + last_.text + (good ? "" : hint()),
            end};
  }

 private:
  [[nodiscard]] std::string expected() const {
    const char* which = conduct_.kind == ConductKind::first_write  ? "the first"
                        : conduct_.kind == ConductKind::last_write ? "the last"
                                                                   : "every";
    return std::string(which) + " write of " + point() + " to be " + describe_expected(*conduct_.condition);
  }
  void add() override {
    const bool good = holds(*conduct_.condition, last_.asked);
    if (conduct_.kind == ConductKind::first_write)
      decide(good ? Result::passed : Result::failed, expected(),
             "it was " + last_.text + (good ? "" : hint()));
    if (conduct_.kind == ConductKind::every_write && !good)
      decide(Result::failed, expected(), the_nth(count_) + " was " + last_.text + hint());
  }
};

class NoWriteRule final : public WriteRule {
 public:
  using WriteRule::WriteRule;
  [[nodiscard]] Finding finish(SimTime end) const override {
    return {Result::passed, "no write of " + point(), "there was none", end};
  }

 private:
  void add() override { decide(Result::failed, "no write of " + point(), "it was set to " + last_.text); }
};

class WriteCountRule final : public WriteRule {
 public:
  using WriteRule::WriteRule;
  [[nodiscard]] Finding finish(SimTime end) const override {
    const bool good = holds(*conduct_.condition, static_cast<double>(count_));
    return {good ? Result::passed : Result::failed, expected(),
            there_were(count_) + (count_ == 0 ? "" : ", the last " + last_.text), end};
  }

 private:
  [[nodiscard]] std::string expected() const {
    return counted(*conduct_.condition, "write", "writes") + " of " + point();
  }
  void add() override {
    const auto count = static_cast<double>(count_);
    if (const auto result = settled_as(*conduct_.condition, count))
      decide(*result, expected(), the_nth(count_) + " was " + last_.text);
  }
};

/// Holds no more instants than writes may come within one window.
class WriteRateRule final : public WriteRule {
 public:
  explicit WriteRateRule(const RuleContext& context) : WriteRule(context) {
    const auto& condition = *conduct_.condition;
    using Comparator = Condition::Comparator;
    if (condition.comparator == Comparator::at_most) most_ = whole(condition.a);
    if (condition.comparator == Comparator::at_least) least_ = whole(condition.a);
    if (condition.comparator == Comparator::between) {
      least_ = whole(condition.a);
      most_ = whole(condition.b);
    }
  }
  /// The first whole window begins with the interval and leaves its last instant out: that belongs to the
  /// next.
  void begin(SimTime at) override {
    begun_ = at;
    if (least_.value_or(0) > 0) too_few_after_.push_back(at - Duration{1});
  }
  [[nodiscard]] std::optional<Finding> look(SimTime now) const override {
    if (too_few_after_.empty() || now < window_over()) return std::nullopt;
    return too_few();
  }
  [[nodiscard]] std::optional<SimTime> next() const override {
    return too_few_after_.empty() ? std::nullopt : std::optional(window_over());
  }
  [[nodiscard]] Finding finish(SimTime end) const override {
    if (!too_few_after_.empty() && window_over() < end) return too_few();
    if (least_ && end - begun_ < conduct_.window)
      return {Result::not_judged,
              {},
              "the interval was shorter than a window of 1 " + per_words(conduct_.window),
              end};
    return {Result::passed, expected(), there_were(count_) + " in all", end};
  }

 private:
  static std::size_t whole(double count) { return static_cast<std::size_t>(std::lround(count)); }
  [[nodiscard]] std::string expected() const {
    return counted(*conduct_.condition, "write", "writes") + " of " + point() + " in any " + window_words();
  }
  [[nodiscard]] std::string window_words() const {
    const auto words = per_words(conduct_.window);
    return words == "s" || words == "min" || words == "h" ? "1 " + words : words;
  }
  [[nodiscard]] SimTime window_over() const { return too_few_after_.front() + conduct_.window; }
  [[nodiscard]] Finding too_few() const {
    const auto found = too_few_after_.size() - 1;
    const SimTime start = std::max(too_few_after_.front(), begun_);
    return {Result::failed, expected(),
            there_were(found) + " in the " + window_words() + " from " + words_of(start) + " on",
            window_over()};
  }
  void add() override {
    const SimTime now = last_.at;
    if (least_.value_or(0) > 0) {
      if (now > window_over()) return ConductRule::decide(too_few());
      too_few_after_.push_back(now);
      if (too_few_after_.size() > *least_) too_few_after_.pop_front();
    }
    if (!most_) return;
    while (!recent_.empty() && recent_.front() <= now - conduct_.window) recent_.pop_front();
    recent_.push_back(now);
    if (recent_.size() > *most_)
      decide(Result::failed, expected(),
             the_nth(recent_.size()) + " within " + window_words() + " was " + last_.text);
  }

  std::optional<std::size_t> most_;
  std::optional<std::size_t> least_;
  SimTime begun_{};
  std::deque<SimTime> recent_;         ///< writes of the window that ends now
  std::deque<SimTime> too_few_after_;  ///< the oldest instant after which fewer than least_ writes have come,
                                       ///< and those writes
};

}  // namespace

std::unique_ptr<ConductRule> make_write_rule(const RuleContext& context) {
  switch (context.conduct.kind) {
    case ConductKind::no_write:
      return std::make_unique<NoWriteRule>(context);
    case ConductKind::write_count:
      return std::make_unique<WriteCountRule>(context);
    case ConductKind::write_rate:
      return std::make_unique<WriteRateRule>(context);
    default:
      return std::make_unique<ValueRule>(context);
  }
}

}  // namespace emberline::rehearsal

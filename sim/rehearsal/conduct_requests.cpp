// What is judged by the requests that reach a slave.
#include <algorithm>
#include <cstdint>
#include <map>
#include <utility>
#include <vector>

#include "sim/base/duration_text.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/rehearsal/conduct_rules.hpp"
#include "sim/rehearsal/conduct_slave.hpp"
#include "sim/rehearsal/conduct_words.hpp"
#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/longest_silence.hpp"
#include "sim/rehearsal/refusal_words.hpp"

namespace emberline::rehearsal {
namespace {

using Result = Outcome::Result;
using Comparator = Condition::Comparator;

Slave slave_of(const RuleContext& context) {
  return context.conduct.of == Conduct::Of::io_block ? slave_of_io_block(context.bench, context.conduct.index)
                                                     : slave_of_unit(context.bench, context.conduct.index);
}

/// A silence that lasts longer than this no longer fits, however long it gets; nothing if none is too long.
struct TooLong {
  double limit_s;
  bool included;  ///< it is too long at the limit itself
};
std::optional<TooLong> too_long(const Condition& condition) {
  switch (condition.comparator) {
    case Comparator::below:
      return TooLong{condition.a, true};
    case Comparator::at_most:
      return TooLong{condition.a, false};
    case Comparator::between:
      return TooLong{condition.b, false};
    case Comparator::near:
      return TooLong{condition.a + condition.b, false};
    default:
      return std::nullopt;
  }
}

class SilenceRule final : public ConductRule {
 public:
  explicit SilenceRule(const RuleContext& context)
      : conduct_(context.conduct), by_(context.by), too_long_(too_long(*context.conduct.condition)) {
    if (conduct_.of != Conduct::Of::line) slave_ = slave_of(context);
  }
  void begin(SimTime at) override { silence_.begin(at); }
  void request(const bench::RequestSeen& request, bool /*again*/) override {
    const bool heard = slave_ ? slave_->is_reached(request) : request.line == conduct_.index;
    if (!heard) return;
    if (auto finding = look(request.at); finding && finding->result == Result::failed)
      return decide(*std::move(finding));
    silence_.heard(request.at);
  }
  [[nodiscard]] std::optional<Finding> look(SimTime now) const override {
    const auto& condition = *conduct_.condition;
    const SimTime since = silence_.since();
    const double so_far = to_seconds(now - since);
    const auto good = settled(condition, so_far);
    if (!good) return std::nullopt;
    if (*good) return Finding{Result::passed, expected(), silent({since, now}), now};
    // It is too long from its limit on; how long it will get, nobody knows yet.
    const Duration limit = from_seconds(too_long_->limit_s);
    return Finding{Result::failed, expected(),
                   "it was silent from " + words_of(since) + " on, " +
                       (too_long_->included ? "for " + format_duration(limit) + " and longer"
                                            : "longer than " + format_duration(limit)),
                   since + limit};
  }
  [[nodiscard]] std::optional<SimTime> next() const override {
    const auto& condition = *conduct_.condition;
    const SimTime since = silence_.since();
    if (condition.comparator == Comparator::at_least) return since + from_seconds(condition.a);
    if (condition.comparator == Comparator::above) return since + from_seconds(condition.a) + Duration{1};
    if (!too_long_) return std::nullopt;
    SimTime at = since + from_seconds(too_long_->limit_s);
    // Comparisons leave room for rounding (holds()), some nanoseconds for a limit of some seconds.
    for (Duration more{1}; settled(condition, to_seconds(at - since)) != std::optional(false); more *= 2)
      at += more;
    return at;
  }
  [[nodiscard]] Finding finish(SimTime end) const override {
    const auto longest = silence_.until(end);
    const bool good = holds(*conduct_.condition, to_seconds(longest.length()));
    return {good ? Result::passed : Result::failed, expected(),
            (good ? "the longest was " + format_duration(longest.length()) + ", from " +
                        words_of(longest.from) + " to " + words_of(longest.to)
                  : silent(longest)),
            end};
  }

 private:
  [[nodiscard]] std::string expected() const {
    return "silence " + std::string(conduct_.of == Conduct::Of::line ? "on " : "towards ") + conduct_.name +
           by_ + " of " + describe_expected(*conduct_.condition);
  }
  [[nodiscard]] static std::string silent(const LongestSilence::Stretch& stretch) {
    return "it was silent from " + words_of(stretch.from) + " to " + words_of(stretch.to) + ", " +
           format_duration(stretch.length());
  }
  const Conduct& conduct_;
  std::string by_;
  std::optional<TooLong> too_long_;
  std::optional<Slave> slave_;  ///< nothing: a line
  LongestSilence silence_;
};

class RetriesRule final : public ConductRule {
 public:
  explicit RetriesRule(const RuleContext& context)
      : conduct_(context.conduct), by_(context.by), slave_(slave_of(context)) {}
  void request(const bench::RequestSeen& request, bool again) override {
    if (!again || !slave_.is_asked(request)) return;
    const auto count = static_cast<double>(++count_);
    last_ = "by " + std::string(request.master) + " at " + words_of(request.at);
    if (const auto result = settled_as(*conduct_.condition, count))
      decide({*result, expected(), the_nth(count_) + " was sent " + last_, request.at});
  }
  [[nodiscard]] Finding finish(SimTime end) const override {
    const bool good = holds(*conduct_.condition, static_cast<double>(count_));
    return {good ? Result::passed : Result::failed, expected(),
            there_were(count_) + (count_ == 0 ? "" : ", the last " + last_), end};
  }

 private:
  [[nodiscard]] std::string expected() const {
    return counted(*conduct_.condition, "retry", "retries") + " of a request to " + conduct_.name + by_;
  }
  const Conduct& conduct_;
  std::string by_;
  Slave slave_;
  std::uint64_t count_ = 0;
  std::string last_;
};

class ExceptionsRule final : public ConductRule {
 public:
  explicit ExceptionsRule(const RuleContext& context)
      : conduct_(context.conduct), by_(context.by), slave_(slave_of(context)) {}
  void request(const bench::RequestSeen& request, bool /*again*/) override {
    if (!slave_.is_asked(request)) return;
    const auto refusal = modbus::refusal_of(request.answer);
    if (!refusal) return;
    ++count_;
    auto& met = met_[*refusal];
    if (met.times++ == 0) met.first = request.at;
    const auto& condition = *conduct_.condition;
    if (by_code()) {
      bits_ |= std::uint32_t{1} << static_cast<unsigned>(*refusal);
      const bool good = holds(condition, bits_);
      // One that is excluded has come, or the last that is included.
      if (good == (condition.comparator == Comparator::include))
        decide({good ? Result::passed : Result::failed, expected(), what_came(), request.at});
    } else if (const auto result = settled_as(condition, static_cast<double>(count_))) {
      decide({*result, expected(), what_came(), request.at});
    }
  }
  [[nodiscard]] Finding finish(SimTime end) const override {
    const bool good = holds(*conduct_.condition, by_code() ? bits_ : static_cast<double>(count_));
    return {good ? Result::passed : Result::failed, expected(), what_came(), end};
  }

 private:
  struct Met {
    std::uint64_t times = 0;
    SimTime first;
  };
  [[nodiscard]] bool by_code() const {
    return conduct_.condition->comparator == Comparator::include ||
           conduct_.condition->comparator == Comparator::exclude;
  }
  [[nodiscard]] std::string expected() const {
    const std::string whose = " from " + conduct_.name + (by_.empty() ? "" : " to requests" + by_);
    const auto& condition = *conduct_.condition;
    if (!by_code()) {
      const bool none = condition.comparator == Comparator::equals && condition.a == 0.0;
      return (none ? "no exception" : counted(condition, "exception", "exceptions")) + whose;
    }
    const bool include = condition.comparator == Comparator::include;
    std::string codes;
    for (unsigned code = 1; code < 32; ++code) {
      if ((static_cast<std::uint32_t>(condition.a) >> code & 1u) == 0) continue;
      codes += (codes.empty() ? ""
                : include     ? " and "
                              : " or ") +
               exception_words(static_cast<modbus::Refusal>(code));
    }
    return (include ? "" : "no ") + codes + whose;
  }
  /// "exception 02 (illegal data address) 3 times, the first at 20 s"
  [[nodiscard]] std::string what_came() const {
    if (met_.empty()) return "there was none";
    std::string text = "there came ";
    for (const auto& [refusal, met] : met_) {
      if (text.back() != ' ') text += ", and ";
      text += exception_words(refusal) +
              (met.times == 1 ? " once, at " : " " + std::to_string(met.times) + " times, the first at ") +
              words_of(met.first);
    }
    return text;
  }
  const Conduct& conduct_;
  std::string by_;
  Slave slave_;
  std::uint64_t count_ = 0;
  std::uint32_t bits_ = 0;
  std::map<modbus::Refusal, Met> met_;
};

}  // namespace

std::unique_ptr<ConductRule> make_slave_rule(const RuleContext& context) {
  switch (context.conduct.kind) {
    case ConductKind::retries:
      return std::make_unique<RetriesRule>(context);
    case ConductKind::exceptions:
      return std::make_unique<ExceptionsRule>(context);
    default:
      return std::make_unique<SilenceRule>(context);
  }
}

}  // namespace emberline::rehearsal

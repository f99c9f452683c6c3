#pragma once

#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "sim/rehearsal/conduct_judge.hpp"

namespace emberline::rehearsal {

/// One kind of conduct, judged over an interval that begins with begin() and ends with finish(). Is told only
/// of masters that count. The kinds, exactly:
///
/// - first_write: the first write of the point asks for such a value; decided with it.
/// - last_write: the last one does; decided at the end of the interval.
/// - every_write: each one does; failed at the first that does not, passed at the end of the interval.
///   None of these three: could not be judged.
/// - no_write: failed at the first write, passed at the end.
/// - write_count: decided as soon as further writes cannot change it, else at the end.
/// - write_rate: a window is half open, (t - window, t]: of two writes just one window apart it holds one. At
///   most: failed at the write with which one holds more; the interval may be shorter than the window. At
///   least: every whole window within the interval counts, the first from its beginning on; failed when one
///   is over that holds fewer; an interval shorter than the window could not be judged.
/// - poll_period: the time from each read of the point to the next, by whichever master counts and whether it
///   is answered or not, a retry included; a read that takes in several rows of the point is one. Failed at
///   the read that ends a gap which does not fit. The time before the first and after the last read is no
///   gap: `silence` watches that. Fewer than two reads: could not be judged.
/// - silence: the longest time without a whole request to the slave, answered or not, from the beginning of
///   the interval, or the request before, to the next or to the end of the interval. Broadcasts count as
///   requests to everybody on their line; on a line every request counts, whoever it is for. Failed as soon
///   as a silence is too long, while it lasts.
/// - retries: requests to the slave that bench::Retries tells, also of a request from before the interval.
/// - exceptions: answers of the slave, whatever became of them on the way. A count is decided like
///   write_count. `exclude`: failed at the first of these codes. `include`: passed when each of these codes
///   has come, failed at the end.
/// - read_back: each accepted write of the point is followed by a read of it that the slave answers without
///   exception, `window` after the write at the latest (included). One read serves all writes before it; the
///   read of a 17 (hex) comes after its write. Failed when a window is over. A write whose window is not over
///   when the interval ends is left out; none left: could not be judged.
/// - read_before_write: when the first write of the point comes, the other point has been read within the
///   interval, answered without exception. A 17 (hex) writes first. Decided with the write; none: could not
///   be judged.
///
/// Refused writes are writes, but for read_back, and are marked as such.
class ConductRule {
 public:
  virtual ~ConductRule() = default;
  virtual void begin(SimTime /*at*/) {}
  // Not called once it is decided.
  virtual void write(const unit::WriteSeen& /*write*/) {}
  virtual void request(const bench::RequestSeen& /*request*/, bool /*again*/) {}
  /// What time alone decides.
  [[nodiscard]] virtual std::optional<Finding> look(SimTime /*now*/) const { return std::nullopt; }
  [[nodiscard]] virtual std::optional<SimTime> next() const { return std::nullopt; }
  [[nodiscard]] virtual Finding finish(SimTime end) const = 0;
  /// What a write or request has decided.
  [[nodiscard]] const std::optional<Finding>& decided() const { return decided_; }

 protected:
  void decide(Finding finding) { decided_ = std::move(finding); }

 private:
  std::optional<Finding> decided_;
};

/// What a rule is made from. `by`: " by plc" where only that stand-in counts, else empty.
struct RuleContext {
  const Conduct& conduct;
  const bench::BenchSpec& bench;
  std::string by;
};

/// Rules that go by writes alone: first_write to write_rate.
[[nodiscard]] std::unique_ptr<ConductRule> make_write_rule(const RuleContext& context);
/// Rules that go by reads of a point: poll_period, read_back, read_before_write.
[[nodiscard]] std::unique_ptr<ConductRule> make_read_rule(const RuleContext& context);
/// Rules about a slave or a line: silence, retries, exceptions.
[[nodiscard]] std::unique_ptr<ConductRule> make_slave_rule(const RuleContext& context);

}  // namespace emberline::rehearsal

// What is judged by reads of points.
#include <algorithm>
#include <utility>
#include <vector>

#include "sim/base/duration_text.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/rehearsal/conduct_rules.hpp"
#include "sim/rehearsal/conduct_slave.hpp"
#include "sim/rehearsal/conduct_words.hpp"
#include "sim/rehearsal/judge_words.hpp"

namespace emberline::rehearsal {
namespace {

using Result = Outcome::Result;

/// What a request reads, if it reads anything.
struct ReadRange {
  modbus::Table table;
  modbus::AddressRange range;
};

std::optional<ReadRange> range_read(modbus::ByteView pdu) {
  const auto touched = modbus::touched_by(pdu);
  if (!touched || touched->read.count == 0) return std::nullopt;
  return ReadRange{touched->table, touched->read};
}

/// Knows a read of a unit's point when it sees one.
class PointRead {
 public:
  PointRead(const bench::BenchSpec& bench, std::size_t unit, registers::Point point)
      : slave_(slave_of_unit(bench, unit)) {
    for (const auto& row : bench.units[unit].unit.table->rows()) {
      if (!carries_point(row) || row.point != point || row.access == registers::Access::write_only) continue;
      const int size = modbus::carries_bits(row.table) ? 1 : registers::register_count(row.layout);
      rows_.push_back({row.table, {row.address, static_cast<std::uint16_t>(size)}});
    }
  }
  [[nodiscard]] bool is_in(const bench::RequestSeen& request) const {
    if (!slave_.is_asked(request)) return false;
    const auto read = range_read(request.pdu);
    return read && std::any_of(rows_.begin(), rows_.end(), [&](const ReadRange& row) {
             return row.table == read->table && row.range.first >= read->range.first &&
                    row.range.first + row.range.count <= read->range.first + read->range.count;
           });
  }
  [[nodiscard]] bool is_answered_in(const bench::RequestSeen& request) const {
    return !request.answer.empty() && !modbus::refusal_of(request.answer) && is_in(request);
  }

 private:
  Slave slave_;
  std::vector<ReadRange> rows_;
};

class PollPeriodRule final : public ConductRule {
 public:
  explicit PollPeriodRule(const RuleContext& context)
      : conduct_(context.conduct),
        by_(context.by),
        read_(context.bench, context.conduct.index, context.conduct.point) {}

  void request(const bench::RequestSeen& request, bool /*again*/) override {
    if (!read_.is_in(request)) return;
    if (reads_++ > 0) {
      const Duration gap = request.at - last_;
      shortest_ = reads_ == 2 ? gap : std::min(shortest_, gap);
      longest_ = std::max(longest_, gap);
      if (!holds(*conduct_.condition, to_seconds(gap)))
        decide({Result::failed, expected(),
                "from the read at " + words_of(last_) + " to that at " + words_of(request.at) + " by " +
                    std::string(request.master) + " it took " + format_duration(gap),
                request.at});
    }
    last_ = request.at;
  }
  [[nodiscard]] Finding finish(SimTime end) const override {
    if (reads_ == 0) return {Result::not_judged, {}, nobody_did(conduct_, !by_.empty(), "read"), end};
    if (reads_ == 1)
      return {Result::not_judged,
              {},
              conduct_.name + " was read" + by_ + " once only, at " + words_of(last_),
              end};
    return {Result::passed, expected(),
            std::to_string(reads_) + " reads came, " + format_duration(shortest_) +
                (shortest_ == longest_ ? "" : " to " + format_duration(longest_)) + " apart, the last at " +
                words_of(last_) +
                (last_ < end ? ", " + format_duration(end - last_) + " before the end" : ""),
            end};
  }

 private:
  [[nodiscard]] std::string expected() const {
    return describe_expected(*conduct_.condition) + " from each read of " + conduct_.name + by_ +
           " to the next";
  }
  const Conduct& conduct_;
  std::string by_;
  PointRead read_;
  std::uint64_t reads_ = 0;
  SimTime last_{};
  Duration shortest_{};
  Duration longest_{};
};

class ReadBackRule final : public ConductRule {
 public:
  explicit ReadBackRule(const RuleContext& context)
      : conduct_(context.conduct),
        bench_(context.bench),
        by_(context.by),
        read_(context.bench, context.conduct.index, context.conduct.point) {}

  void write(const unit::WriteSeen& write) override {
    if (!write.accepted || !is_of_point(conduct_, bench_, write)) return;
    if (is_over(write.at)) return decide(missed());
    ++unread_;
    // Whoever reads the oldest in time has read the later ones in time.
    if (!oldest_) oldest_ = note_of(write);
  }
  void request(const bench::RequestSeen& request, bool /*again*/) override {
    if (!oldest_ || !read_.is_answered_in(request)) return;
    if (is_over(request.at)) return decide(missed());
    slowest_ = std::max(slowest_, Duration{request.at - oldest_->at});
    read_back_ += std::exchange(unread_, 0);
    oldest_.reset();
  }
  [[nodiscard]] std::optional<Finding> look(SimTime now) const override {
    return oldest_ && now >= oldest_->at + conduct_.window ? std::optional(missed()) : std::nullopt;
  }
  [[nodiscard]] std::optional<SimTime> next() const override {
    return oldest_ ? std::optional(oldest_->at + conduct_.window) : std::nullopt;
  }
  [[nodiscard]] Finding finish(SimTime end) const override {
    if (oldest_ && oldest_->at + conduct_.window < end) return missed();
    if (read_back_ > 0)
      return {Result::passed, expected(),
              (read_back_ == 1 ? "the one there was, "
                               : "all " + std::to_string(read_back_) + " were, the slowest ") +
                  std::string("after ") + format_duration(slowest_),
              end};
    if (oldest_)
      return {Result::not_judged,
              {},
              "only " + oldest_->text + " was written to " + conduct_.name +
                  ", and the interval ended before it had to be read back",
              end};
    return {Result::not_judged, {}, nobody_did(conduct_, !by_.empty(), "wrote"), end};
  }

 private:
  [[nodiscard]] bool is_over(SimTime now) const { return oldest_ && now > oldest_->at + conduct_.window; }
  [[nodiscard]] std::string expected() const {
    return "every write of " + conduct_.name + by_ + " to be read back within " +
           format_duration(conduct_.window);
  }
  [[nodiscard]] Finding missed() const {
    const SimTime over = oldest_->at + conduct_.window;
    return {Result::failed, expected(),
            oldest_->text + " was followed by no answered read of it until " + words_of(over), over};
  }
  const Conduct& conduct_;
  const bench::BenchSpec& bench_;
  std::string by_;
  PointRead read_;
  std::optional<WriteNote> oldest_;  ///< of those not yet read back
  std::uint64_t unread_ = 0;
  std::uint64_t read_back_ = 0;
  Duration slowest_{};
};

class ReadBeforeWriteRule final : public ConductRule {
 public:
  explicit ReadBeforeWriteRule(const RuleContext& context)
      : conduct_(context.conduct),
        bench_(context.bench),
        by_(context.by),
        read_(context.bench, context.conduct.other_index, context.conduct.other_point) {}

  void write(const unit::WriteSeen& write) override {
    if (!is_of_point(conduct_, bench_, write)) return;
    const auto text = note_of(write).text;
    decide(
        {read_at_ ? Result::passed : Result::failed,
         "an answered read of " + conduct_.other_name + " before the first write of " + conduct_.name + by_,
         read_at_ ? "it was read at " + words_of(*read_at_) + ", then written: " + text
                  : "it was written before that: " + text,
         write.at});
  }
  void request(const bench::RequestSeen& request, bool /*again*/) override {
    if (!read_at_ && read_.is_answered_in(request)) read_at_ = request.at;
  }
  [[nodiscard]] Finding finish(SimTime end) const override {
    return {Result::not_judged, {}, nobody_did(conduct_, !by_.empty(), "wrote"), end};
  }

 private:
  const Conduct& conduct_;
  const bench::BenchSpec& bench_;
  std::string by_;
  PointRead read_;
  std::optional<SimTime> read_at_;
};

}  // namespace

std::unique_ptr<ConductRule> make_read_rule(const RuleContext& context) {
  switch (context.conduct.kind) {
    case ConductKind::read_back:
      return std::make_unique<ReadBackRule>(context);
    case ConductKind::read_before_write:
      return std::make_unique<ReadBeforeWriteRule>(context);
    default:
      return std::make_unique<PollPeriodRule>(context);
  }
}

}  // namespace emberline::rehearsal

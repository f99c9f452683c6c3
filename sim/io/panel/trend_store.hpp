#pragma once

#include <cstdint>
#include <deque>
#include <span>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::io {

/// What all signals of a bench were in the last half hour, about four times a second. A value that stays the
/// same is kept once. Where so many change that half an hour of them would take more memory than is granted,
/// instants are kept less often, so that it is half an hour all the same; what lies between two of them is in
/// no curve then. On the panel's thread.
class TrendStore {
 public:
  static constexpr Duration kKept = std::chrono::minutes{30};
  /// Values that come closer to the ones before are passed over.
  static constexpr Duration kStep = std::chrono::milliseconds{190};

  /// Changes of values that are kept, of 12 bytes each, with a quarter more set aside: 18 MB. Some sixty
  /// signals that never stand still reach half of it, from where on instants are kept less often.
  static constexpr std::size_t kMostChanges = 1'200'000;

  explicit TrendStore(std::size_t signals, std::size_t most_changes = kMostChanges)
      : most_changes_(most_changes), columns_(signals) {}
  /// `values`: one for each signal. Times do not go back.
  void take(SimTime at, std::span<const double> values);

  struct Trend {
    std::vector<SimTime> at;
    std::vector<std::vector<double>> values;  ///< by signal asked for, then by instant
  };
  /// The signals with these places over the last `length` before the newest instant. Where that is more than
  /// `most` instants (3 at least), they are put together, and two stand for all of a piece: with the lowest
  /// and the highest value of each signal in it, in their order, so that no spike is lost. The newest instant
  /// stays.
  [[nodiscard]] Trend last(std::span<const std::size_t> signals, Duration length, std::size_t most) const;

  /// Goes through the instants one by one. The store may take further values meanwhile, which do not belong
  /// to it; what is forgotten before it came there is passed over. Must not outlive the store.
  class Walk {
   public:
    Walk(const TrendStore& store, std::vector<std::size_t> signals, Duration length);
    /// To the next instant, at the beginning to the first; false: there is none.
    [[nodiscard]] bool next();
    [[nodiscard]] SimTime at() const { return at_; }
    /// Of one of the signals, by its number among those asked for.
    [[nodiscard]] double value(std::size_t number) const { return values_[number]; }
    [[nodiscard]] const std::vector<std::size_t>& signals() const { return signals_; }
    /// How many instants are left.
    [[nodiscard]] std::size_t left() const { return static_cast<std::size_t>(end_ - row_); }

   private:
    const TrendStore& store_;
    std::vector<std::size_t> signals_;
    std::uint64_t row_ = 0;  // the next
    std::uint64_t end_ = 0;
    std::vector<std::uint64_t> changes_;  // by signal: number of the one that holds
    SimTime at_;
    std::vector<double> values_;
  };

 private:
  /// Packed, since there may be very many.
  struct [[gnu::packed]] Change {
    std::uint32_t row;  // five a second reach its end after 27 years
    double value;
  };
  struct Column {
    std::vector<Change> changes;  // none before the first row, then one at least
    std::uint64_t gone = 0;       // number of changes.front()
  };
  void add(Column& column, std::uint64_t row, double value);
  void forget_old();
  /// The number of the change that holds in a row.
  [[nodiscard]] static std::uint64_t change_at(const Column& column, std::uint64_t row);
  [[nodiscard]] std::uint64_t row_before(Duration length) const;
  void put_extremes(const Column& column, std::uint64_t begin, std::uint64_t end,
                    std::vector<double>& into) const;

  std::size_t most_changes_;
  std::size_t changes_ = 0;  // that are kept
  Duration step_ = kStep;    // from the newest row to the next
  std::deque<SimTime> rows_;
  std::uint64_t first_row_ = 0;  // number of rows_.front()
  std::vector<Column> columns_;
};

}  // namespace emberline::io

#include "sim/io/panel/trend_store.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
#include <cmath>
#include <limits>
#include <utility>

namespace emberline::io {

void TrendStore::take(SimTime at, std::span<const double> values) {
  assert(values.size() == columns_.size());
  if (!rows_.empty() && at < rows_.back() + step_) return;
  const std::uint64_t row = first_row_ + rows_.size();
  const bool first = row == 0;
  rows_.push_back(at);
  std::size_t changed = 0;
  for (std::size_t i = 0; i < columns_.size(); ++i) {
    auto& column = columns_[i];
    // By their bits: two values that are not numbers are the same.
    const auto bits = std::bit_cast<std::uint64_t>(values[i]);
    if (!first && std::bit_cast<std::uint64_t>(double{column.changes.back().value}) == bits) continue;
    add(column, row, values[i]);
    ++changed;
  }
  // Half of the room is there for what comes all at once, such as the fault of a supply behind an hour of
  // quiet. In the other half each row is followed by the time that its changes take of the half hour, so they
  // fit into it.
  using Count = Duration::rep;
  const std::size_t half = most_changes_ / 2;
  step_ = kStep;
  if (changes_ - columns_.size() > half)
    step_ = std::max(step_, kKept * static_cast<Count>(changed) / static_cast<Count>(half));
  constexpr std::uint64_t kNowAndThen = 64;
  if (row % kNowAndThen == 0 || step_ > kStep) forget_old();
}

void TrendStore::add(Column& column, std::uint64_t row, double value) {
  auto& changes = column.changes;
  // By a quarter, since doubling would leave half of the memory unused for hours.
  if (changes.size() == changes.capacity() && !changes.empty())
    changes.reserve(changes.size() + std::max<std::size_t>(changes.size() / 4, 3));
  ++changes_;
  changes.push_back({static_cast<std::uint32_t>(row), value});
}

void TrendStore::forget_old() {
  while (rows_.front() + kKept < rows_.back()) {
    rows_.pop_front();
    ++first_row_;
  }
  for (auto& column : columns_) {
    auto& changes = column.changes;
    std::size_t old = 0;
    while (old + 1 < changes.size() && changes[old + 1].row <= first_row_) ++old;
    changes.erase(changes.begin(), changes.begin() + static_cast<std::ptrdiff_t>(old));
    column.gone += old;
    changes_ -= old;
    if (changes.capacity() > 2 * changes.size() + 16) changes.shrink_to_fit();
  }
}

std::uint64_t TrendStore::change_at(const Column& column, std::uint64_t row) {
  const auto later =
      std::upper_bound(column.changes.begin(), column.changes.end(), row,
                       [](std::uint64_t number, const Change& change) { return number < change.row; });
  assert(later != column.changes.begin());
  return column.gone + static_cast<std::uint64_t>(later - column.changes.begin()) - 1;
}

std::uint64_t TrendStore::row_before(Duration length) const {
  if (rows_.empty()) return first_row_;
  const auto from = std::lower_bound(rows_.begin(), rows_.end(), rows_.back() - length);
  return first_row_ + static_cast<std::uint64_t>(from - rows_.begin());
}

void TrendStore::put_extremes(const Column& column, std::uint64_t begin, std::uint64_t end,
                              std::vector<double>& into) const {
  double lowest = std::numeric_limits<double>::quiet_NaN();
  double highest = lowest;
  bool lowest_first = true;
  for (auto i = static_cast<std::size_t>(change_at(column, begin) - column.gone);
       i < column.changes.size() && column.changes[i].row < end; ++i) {
    const double value = column.changes[i].value;
    if (std::isnan(value)) continue;
    if (!(value >= lowest)) {  // the first, too
      lowest_first = std::isnan(lowest);
      lowest = value;
    }
    if (!(value <= highest)) {
      lowest_first = true;
      highest = value;
    }
  }
  into.push_back(lowest_first ? lowest : highest);
  into.push_back(lowest_first ? highest : lowest);
}

TrendStore::Trend TrendStore::last(std::span<const std::size_t> signals, Duration length,
                                   std::size_t most) const {
  Trend trend;
  trend.values.resize(signals.size());
  Walk walk(*this, {signals.begin(), signals.end()}, length);
  const std::uint64_t count = walk.left();
  if (count <= most) {
    while (walk.next()) {
      trend.at.push_back(walk.at());
      for (std::size_t s = 0; s < signals.size(); ++s) trend.values[s].push_back(walk.value(s));
    }
    return trend;
  }
  const std::uint64_t begin = row_before(length);
  const std::uint64_t pieces = (std::max<std::size_t>(most, 3) - 1) / 2;
  for (std::uint64_t p = 0; p < pieces; ++p) {
    const auto from = begin + p * (count - 1) / pieces;
    const auto to = begin + (p + 1) * (count - 1) / pieces;
    trend.at.push_back(rows_[static_cast<std::size_t>(from - first_row_)]);
    trend.at.push_back(rows_[static_cast<std::size_t>(to - 1 - first_row_)]);
    for (std::size_t s = 0; s < signals.size(); ++s)
      put_extremes(columns_.at(signals[s]), from, to, trend.values[s]);
  }
  trend.at.push_back(rows_.back());
  for (std::size_t s = 0; s < signals.size(); ++s)
    trend.values[s].push_back(columns_.at(signals[s]).changes.back().value);
  return trend;
}

TrendStore::Walk::Walk(const TrendStore& store, std::vector<std::size_t> signals, Duration length)
    : store_(store),
      signals_(std::move(signals)),
      row_(store.row_before(length)),
      end_(store.first_row_ + store.rows_.size()),
      values_(signals_.size()) {
  for (const auto signal : signals_)
    changes_.push_back(row_ < end_ ? change_at(store.columns_.at(signal), row_) : 0);
}

bool TrendStore::Walk::next() {
  row_ = std::max(row_, store_.first_row_);
  if (row_ >= end_) return false;
  at_ = store_.rows_[static_cast<std::size_t>(row_ - store_.first_row_)];
  for (std::size_t s = 0; s < signals_.size(); ++s) {
    const Column& column = store_.columns_[signals_[s]];
    auto i = static_cast<std::size_t>(std::max(changes_[s], column.gone) - column.gone);
    while (i + 1 < column.changes.size() && column.changes[i + 1].row <= row_) ++i;
    changes_[s] = column.gone + i;
    values_[s] = column.changes[i].value;
  }
  ++row_;
  return true;
}

}  // namespace emberline::io

#include "sim/io/panel/trend_store.hpp"

#include <algorithm>
#include <bit>
#include <cassert>

namespace emberline::io {

void TrendStore::take(SimTime at, std::span<const double> values) {
  assert(values.size() == columns_.size());
  if (!rows_.empty() && at < rows_.back() + kStep) return;
  const std::uint64_t row = first_row_ + rows_.size();
  rows_.push_back(at);
  for (std::size_t i = 0; i < columns_.size(); ++i) {
    auto& column = columns_[i];
    // By their bits: two values that are not numbers are the same.
    const auto bits = std::bit_cast<std::uint64_t>(values[i]);
    if (column.empty() || std::bit_cast<std::uint64_t>(column.back().value) != bits)
      column.push_back({row, values[i]});
  }
  constexpr std::uint64_t kNowAndThen = 64;
  if (row % kNowAndThen == 0) forget_old();
}

void TrendStore::forget_old() {
  while (rows_.front() + kKept < rows_.back()) {
    rows_.pop_front();
    ++first_row_;
  }
  for (auto& column : columns_)
    while (column.size() > 1 && column[1].row <= first_row_) column.pop_front();
}

TrendStore::Trend TrendStore::last(std::span<const std::size_t> signals, Duration length,
                                   std::size_t most) const {
  Trend trend;
  trend.values.resize(signals.size());
  if (rows_.empty() || most == 0) return trend;
  const auto from = std::lower_bound(rows_.begin(), rows_.end(), rows_.back() - length);
  const auto begin = static_cast<std::uint64_t>(from - rows_.begin());
  const std::uint64_t count = rows_.size() - begin;
  const std::uint64_t every = count <= most ? 1 : (count + most - 1) / most;
  // Counted back from the newest.
  std::vector<std::uint64_t> picked;
  for (std::uint64_t i = begin + (count - 1) % every; i < rows_.size(); i += every) picked.push_back(i);
  for (const auto i : picked) trend.at.push_back(rows_[i]);
  for (std::size_t s = 0; s < signals.size(); ++s) {
    const auto& column = columns_.at(signals[s]);
    std::size_t change = 0;
    for (const auto i : picked) {
      while (change + 1 < column.size() && column[change + 1].row <= first_row_ + i) ++change;
      trend.values[s].push_back(column[change].value);
    }
  }
  return trend;
}

}  // namespace emberline::io

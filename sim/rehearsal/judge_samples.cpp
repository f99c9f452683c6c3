#include "sim/rehearsal/judge_samples.hpp"

#include <algorithm>

namespace emberline::rehearsal {

std::size_t Samples::column_of(const std::string& name, bench::SignalId signal) {
  const auto known = std::find_if(columns_.begin(), columns_.end(),
                                  [&](const Column& column) { return column.signal == signal; });
  if (known != columns_.end()) return static_cast<std::size_t>(known - columns_.begin());
  columns_.push_back({name, signal, bench::signal_info(bench_.spec(), signal)});
  return columns_.size() - 1;
}

Samples::Columns Samples::add(const Expectation& expectation) {
  Columns columns;
  const auto take = [&](const std::string& name, bench::SignalId signal) {
    const auto column = column_of(name, signal);
    if (std::find(columns.begin(), columns.end(), column) == columns.end()) columns.push_back(column);
  };
  const auto take_point = [&](const Conduct& conduct) {
    if (conduct.of != Conduct::Of::point) return;
    take(conduct.name, {bench::SignalId::Kind::unit_point, static_cast<std::uint16_t>(conduct.index),
                        static_cast<std::uint16_t>(conduct.point)});
  };
  for (const auto& condition : expectation.conditions) take(condition.name, condition.signal);
  for (const auto& step : expectation.sequence) {
    for (const auto& condition : step.conditions) take(condition.name, condition.signal);
    if (step.write) take_point(*step.write);
  }
  if (expectation.conduct) take_point(*expectation.conduct);
  return columns;
}

Around::Row Samples::row(const Columns& columns, SimTime now) const {
  Around::Row row{now, {}};
  for (const auto column : columns) {
    const auto& [name, signal, info] = columns_[column];
    row.values.push_back(bench::describe_value(info, bench_.value(signal, now)));
  }
  return row;
}

void Samples::look(SimTime now, bool needed) {
  follow(now, kApart);
  if (columns_.empty() || !needed) return;
  const bool full = samples_.size() == kBefore;
  if (!samples_.empty() && now - samples_.back().at < (full ? kApart : Duration{1})) return;
  Sample sample;
  if (full) {
    sample = std::move(samples_.front());
    samples_.pop_front();
  }
  sample.at = now;
  sample.values.resize(columns_.size());
  for (std::size_t i = 0; i < columns_.size(); ++i) sample.values[i] = bench_.value(columns_[i].signal, now);
  samples_.push_back(std::move(sample));
}

void Samples::begin(Around& around, const Columns& columns, SimTime now) {
  if (columns.empty()) return;
  for (const auto column : columns) around.signals.push_back(columns_[column].name);
  for (const auto& sample : samples_) {
    if (sample.at >= now) break;
    Around::Row row{sample.at, {}};
    for (const auto column : columns)
      row.values.push_back(bench::describe_value(columns_[column].info, sample.values[column]));
    around.rows.push_back(std::move(row));
  }
  around.rows.push_back(row(columns, now));
  followed_.push_back({&around, columns});
}

void Samples::follow(SimTime now, Duration apart) {
  if (followed_.empty()) return;
  for (auto& followed : followed_) {
    if (now - followed.around->rows.back().at < apart) continue;
    followed.around->rows.push_back(row(followed.columns, now));
    --followed.left;
  }
  std::erase_if(followed_, [](const Followed& followed) { return followed.left == 0; });
}

void Samples::finish(SimTime now) {
  follow(now, Duration{1});
  followed_.clear();
}

}  // namespace emberline::rehearsal

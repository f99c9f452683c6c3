#include "sim/rehearsal/trends.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/quantity.hpp"
#include "sim/bench/signal.hpp"
#include "sim/registers/point.hpp"

namespace emberline::rehearsal {
namespace {

using bench::SignalId;
using registers::Point;

/// Six significant digits: what a plot and a table show, and no more for files to carry.
double rounded(double value) {
  if (value == 0.0 || !std::isfinite(value)) return value;
  const double scale = std::pow(10.0, 5.0 - std::floor(std::log10(std::fabs(value))));
  return scale > 0.0 && std::isfinite(scale) ? std::round(value * scale) / scale : value;
}

bool same(double one, double other) { return one == other || (std::isnan(one) && std::isnan(other)); }

/// Has few values, each with a name.
bool has_names(const bench::SignalInfo& info) {
  return !info.values.empty() || !info.flags.empty() || info.dimension == Dimension::logical;
}

/// A power in W would be unreadable on an axis.
bool in_thousands(Dimension dimension) {
  return dimension == Dimension::power || dimension == Dimension::apparent_power;
}

void name_values(Trend& trend, const bench::SignalInfo& info) {
  std::vector<double> values;
  for (const auto& point : trend.points) {
    values.push_back(point.low);
    values.push_back(point.high);
  }
  std::sort(values.begin(), values.end());
  values.erase(std::unique(values.begin(), values.end()), values.end());
  for (const double value : values) trend.names.push_back({value, bench::describe_value(info, value)});
}

/// Every signal a scenario speaks of, in the order in which it does.
class Spoken {
 public:
  explicit Spoken(const ScenarioSpec& scenario) {
    for (const auto& expectation : scenario.expectations) take(expectation);
    for (const auto& entry : scenario.timeline) take(entry.when);
    for (const auto& recorded : scenario.record) signals_.push_back(recorded.signal);
  }
  [[nodiscard]] const std::vector<SignalId>& signals() const { return signals_; }

 private:
  void take(const std::vector<Condition>& conditions) {
    for (const auto& condition : conditions) signals_.push_back(condition.signal);
  }
  void take(const Anchor& anchor) { take(anchor.conditions); }
  void take(const Conduct& conduct) {
    if (conduct.of != Conduct::Of::point) return;
    signals_.push_back({SignalId::Kind::unit_point, static_cast<std::uint16_t>(conduct.index),
                        static_cast<std::uint16_t>(conduct.point)});
  }
  void take(const Expectation& expectation) {
    if (expectation.from) take(*expectation.from);
    take(expectation.conditions);
    for (const auto& step : expectation.sequence) {
      take(step.conditions);
      if (step.happens) take(*step.happens);
      if (step.write) take(*step.write);
    }
    if (expectation.conduct) take(*expectation.conduct);
    if (expectation.until) take(*expectation.until);
  }

  std::vector<SignalId> signals_;
};

/// Of a run of this length: the first span is so short that it has doubled to a 600th of the run at its end.
Duration first_span(Duration run) {
  Duration span = run / static_cast<std::int64_t>(kTrendPoints) + Duration{1};
  while (span > std::chrono::milliseconds{10}) span = span / 2 + Duration{1};
  return span;
}

}  // namespace

bool QuantityTrend::level(const Trend::Point& one, const Trend::Point& other) {
  return same(one.low, one.high) && same(one.low, other.low) && same(other.low, other.high);
}

void QuantityTrend::close() {
  if (!filling_) return;
  filling_ = false;
  const auto n = points_.size();
  // In the middle of a level stretch a point says nothing.
  if (n >= 2 && level(points_[n - 2], points_[n - 1]) && level(points_[n - 1], open_)) {
    points_.back().at = open_.at;
  } else {
    points_.push_back(open_);
  }
  while (points_.size() > kTrendPoints) widen();
}

void QuantityTrend::widen() {
  span_ *= 2;
  std::vector<Trend::Point> merged;
  for (const auto& point : points_) {
    const bool joins =
        !merged.empty() && merged.back().at.time_since_epoch() / span_ == point.at.time_since_epoch() / span_;
    if (!joins) {
      merged.push_back(point);
      continue;
    }
    auto& last = merged.back();
    last = {point.at, std::fmin(last.low, point.low), std::fmax(last.high, point.high)};
  }
  points_ = std::move(merged);
}

void QuantityTrend::take(SimTime at, double value) {
  if (filling_ && at >= ends_) close();
  if (!filling_) {
    filling_ = true;
    open_ = {at, value, value};
    ends_ = SimTime{(at.time_since_epoch() / span_ + 1) * span_};
    return;
  }
  // fmin and fmax pass over what is not a number.
  open_ = {at, std::fmin(open_.low, value), std::fmax(open_.high, value)};
}

std::vector<Trend::Point> QuantityTrend::finished() const {
  auto copy = *this;
  copy.close();
  return copy.points_;
}

void ChangeTrend::take(SimTime at, double value) {
  if (!points_.empty() && same(last_, value)) return;
  last_ = value;
  if (!points_.empty() && points_.back().at == at) {
    points_.back() = {at, value, value};  // what stood for no time at all was not there
    if (points_.size() >= 2 && same(points_[points_.size() - 2].low, value) &&
        same(points_[points_.size() - 2].high, value))
      points_.pop_back();
    return;
  }
  points_.push_back({at, value, value});
  if (points_.size() > 2 * kTrendPoints) thin(at);
}

void ChangeTrend::join_short(SimTime end) {
  std::vector<Trend::Point> kept;
  for (std::size_t i = 0; i < points_.size(); ++i) {
    const bool last = i + 1 == points_.size();
    const auto until = last ? end : points_[i + 1].at;
    // The last one stands for no one knows how long yet.
    const bool joins = !last && !kept.empty() && until - kept.back().at <= span_;
    if (!joins) {
      kept.push_back(points_[i]);
      continue;
    }
    kept.back().low = std::fmin(kept.back().low, points_[i].low);
    kept.back().high = std::fmax(kept.back().high, points_[i].high);
  }
  points_ = std::move(kept);
}

void ChangeTrend::thin(SimTime end) {
  if (points_.size() <= kTrendPoints) return;
  join_short(end);
  // Not before it is needed: the shorter the span, the more stays exact.
  for (; points_.size() > kTrendPoints; join_short(end)) span_ *= 2;
}

std::vector<Trend::Point> ChangeTrend::finished(SimTime end) const {
  auto copy = *this;
  copy.thin(end);
  return copy.points_;
}

TrendRecorder::TrendRecorder(const ScenarioSpec& scenario, const bench::Bench& bench) : bench_(bench) {
  const auto& spec = bench.spec();
  const auto run = scenario.ends.time_since_epoch();
  const auto of = [](SignalId::Kind kind, std::size_t index, Point point = Point::setpoint) {
    return SignalId{
        kind, static_cast<std::uint16_t>(index),
        kind == SignalId::Kind::unit_point ? static_cast<std::uint16_t>(point) : std::uint16_t{0}};
  };
  for (std::size_t z = 0; z < spec.zones.size(); ++z) {
    add(of(SignalId::Kind::zone_measured, z), run);
    add(of(SignalId::Kind::zone_temperature, z), run);
  }
  for (std::size_t u = 0; u < spec.units.size(); ++u)
    for (const auto point : {Point::setpoint_active, Point::output, Point::load_power, Point::state})
      add(of(SignalId::Kind::unit_point, u, point), run);
  const Spoken spoken(scenario);
  for (const auto signal : spoken.signals()) add(signal, run);
}

void TrendRecorder::add(SignalId signal, Duration run) {
  if (std::find(order_.begin(), order_.end(), signal) != order_.end()) return;
  order_.push_back(signal);
  if (has_names(bench::signal_info(bench_.spec(), signal))) {
    changes_.push_back({signal, ChangeTrend(first_span(run))});
  } else {
    quantities_.push_back({signal, QuantityTrend(first_span(run))});
  }
}

void TrendRecorder::run(SimTime now) {
  for (auto& quantity : quantities_) quantity.trend.take(now, bench_.value(quantity.signal, now));
  for (auto& change : changes_) change.trend.take(now, bench_.value(change.signal, now));
}

std::vector<Trend> TrendRecorder::finish(SimTime now) {
  run(now);
  std::vector<Trend> trends(order_.size());
  const auto place = [this](SignalId signal) {
    return static_cast<std::size_t>(std::find(order_.begin(), order_.end(), signal) - order_.begin());
  };
  for (const auto& quantity : quantities_) {
    const auto dimension = bench::signal_info(bench_.spec(), quantity.signal).dimension;
    auto& trend = trends[place(quantity.signal)];
    trend.unit = (in_thousands(dimension) ? "k" : "") + std::string(natural_unit(dimension));
    const double factor = natural_factor(dimension) * (in_thousands(dimension) ? 1e3 : 1.0);
    trend.points = quantity.trend.finished();
    for (auto& point : trend.points)
      point = {point.at, rounded(point.low / factor), rounded(point.high / factor)};
  }
  for (const auto& change : changes_) {
    auto& trend = trends[place(change.signal)];
    trend.points = change.trend.finished(now);
    name_values(trend, bench::signal_info(bench_.spec(), change.signal));
  }
  for (std::size_t i = 0; i < order_.size(); ++i)
    trends[i].signal = bench::signal_name(bench_.spec(), order_[i]);
  return trends;
}

}  // namespace emberline::rehearsal

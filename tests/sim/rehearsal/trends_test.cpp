#include "sim/rehearsal/trends.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/rehearsal/rehearsal.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using rehearsal::ChangeTrend;
using rehearsal::kTrendPoints;
using rehearsal::QuantityTrend;
using rehearsal::Trend;

namespace {

constexpr double kNothing = std::numeric_limits<double>::quiet_NaN();

/// The lowest and highest value of all points at or after `from` up to `to`.
std::pair<double, double> extent(const std::vector<Trend::Point>& points) {
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (const auto& point : points) {
    low = std::fmin(low, point.low);
    high = std::fmax(high, point.high);
  }
  return {low, high};
}

const Trend* find(const std::vector<Trend>& trends, const std::string& signal) {
  const auto found =
      std::find_if(trends.begin(), trends.end(), [&](const Trend& trend) { return trend.signal == signal; });
  return found == trends.end() ? nullptr : &*found;
}

}  // namespace

TEST_CASE("a short peak is lost from the trend of a long run") {
  QuantityTrend trend(5ms);
  for (int i = 0; i < 400'000; ++i) {
    const double wave = std::sin(i / 20'000.0);
    trend.take(SimTime{i * 20ms}, i == 123'456 ? 7.5 : wave);
  }
  const auto points = trend.finished();
  CHECK(points.size() <= kTrendPoints);
  CHECK(points.size() > kTrendPoints / 3);
  CHECK(extent(points).second == 7.5);
  CHECK(extent(points).first == doctest::Approx(-1.0).epsilon(1e-6));
  const auto peak = std::find_if(points.begin(), points.end(), [](const auto& p) { return p.high > 7; });
  CHECK(std::fabs(to_seconds(peak->at) - 123'456 * 0.02) < 8000.0 / 300);
  CHECK(points.back().at == SimTime{399'999 * 20ms});
}

TEST_CASE("a level stretch takes as many points as a busy one, or its ends are bent") {
  QuantityTrend trend(10ms);
  for (int i = 0; i <= 1000; ++i) trend.take(SimTime{i * 20ms}, i < 500 ? 0.0 : 12.0);
  const auto points = trend.finished();
  REQUIRE(points.size() == 4);
  CHECK(points[1].at == SimTime{499 * 20ms});
  CHECK(points[1].high == 0.0);
  CHECK(points[2].at == SimTime{500 * 20ms});
  CHECK(points[2].low == 12.0);
}

TEST_CASE("a sensor without a value is drawn as one with") {
  QuantityTrend trend(10ms);
  for (int i = 0; i < 100; ++i) trend.take(SimTime{i * 20ms}, i < 40 || i >= 60 ? 540.0 + i : kNothing);
  const auto points = trend.finished();
  const auto gaps =
      std::count_if(points.begin(), points.end(), [](const auto& p) { return std::isnan(p.low); });
  CHECK(gaps == 2);  // a level stretch of nothing
  CHECK(extent(points).second == 639.0);
}

TEST_CASE("the edge of a state is moved, or one that comes back at the same instant is kept") {
  ChangeTrend trend(10ms);
  trend.take(SimTime{0s}, 3);
  trend.take(SimTime{1s}, 3);
  trend.take(SimTime{20s + 1ns}, 6);
  trend.take(SimTime{30s}, 3);
  trend.take(SimTime{30s}, 6);
  const auto points = trend.finished(SimTime{60s});
  REQUIRE(points.size() == 2);
  CHECK(points[1].at == SimTime{20s + 1ns});
  CHECK(points[1].low == 6.0);
  CHECK(points[1].high == 6.0);
}

TEST_CASE("a relay that chatters pushes out what else the relay did") {
  ChangeTrend trend(10ms);
  trend.take(SimTime{0s}, 1);
  trend.take(SimTime{100s}, 0);
  trend.take(SimTime{200s}, 1);
  for (int i = 0; i < 100'000; ++i) trend.take(SimTime{300s + i * 20ms}, i % 2 == 0 ? 0.0 : 1.0);
  trend.take(SimTime{5000s}, 0);
  trend.take(SimTime{6000s}, 1);
  const auto points = trend.finished(SimTime{7000s});
  CHECK(points.size() <= kTrendPoints);
  const auto at = [&](SimTime when) {
    return std::any_of(points.begin(), points.end(),
                       [&](const auto& p) { return p.at == when && p.low == p.high; });
  };
  CHECK(at(SimTime{100s}));
  CHECK(at(SimTime{200s}));
  CHECK(at(SimTime{5000s}));
  CHECK(at(SimTime{6000s}));
  CHECK(std::any_of(points.begin(), points.end(), [](const auto& p) { return p.low == 0 && p.high == 1; }));
  CHECK(std::is_sorted(points.begin(), points.end(),
                       [](const auto& one, const auto& other) { return one.at < other.at; }));
}

TEST_CASE("a report lacks the curve of a zone, a unit, an expectation or one that was asked for") {
  rehearsal::ScenarioSpec spec;
  spec.bench = testing::heated_bench();
  spec.ends = SimTime{10s};
  const auto named = [&](const char* name) {
    const auto id = bench::find_signal(spec.bench, name);
    REQUIRE_MESSAGE(id, name);
    return *id;
  };
  const auto& unit = spec.bench.units.front().unit.name;
  const auto& zone = spec.bench.zones.front().name;
  rehearsal::Expectation expectation;
  expectation.name = "x";
  rehearsal::Condition condition;
  condition.name = "supply.frequency";
  condition.signal = named("supply.frequency");
  condition.info = bench::signal_info(spec.bench, condition.signal);
  condition.a = 50;
  expectation.conditions = {condition};
  spec.expectations = {expectation};
  spec.record = {{"supply.power", named("supply.power")}};
  rehearsal::Rehearsal run(spec, 1, {});
  run.loop().run_through(spec.ends);
  const auto trends = run.verdict(0).trends;
  for (const auto& signal : {zone + ".measured", zone + ".temperature", unit + ".setpoint_active",
                             unit + ".output", unit + ".load_power", unit + ".state",
                             std::string("supply.frequency"), std::string("supply.power")}) {
    CAPTURE(signal);
    const auto* trend = find(trends, signal);
    REQUIRE(trend != nullptr);
    REQUIRE_FALSE(trend->points.empty());
    CHECK(trend->points.size() <= kTrendPoints);
    CHECK(trend->points.front().at == SimTime{});
  }
  CHECK(find(trends, zone + ".measured")->unit == "degC");
  CHECK(find(trends, unit + ".output")->unit == "%");
  CHECK(find(trends, unit + ".load_power")->unit == "kW");
  const auto* state = find(trends, unit + ".state");
  CHECK(state->unit.empty());
  CHECK_FALSE(state->names.empty());
  CHECK(find(trends, "supply.frequency")->points.back().high == 50.0);
}

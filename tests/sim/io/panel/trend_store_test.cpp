#include "sim/io/panel/trend_store.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <doctest/doctest.h>

using namespace emberline;
using namespace std::chrono_literals;

namespace {

SimTime at(double seconds) { return SimTime{from_seconds(seconds)}; }

}  // namespace

TEST_CASE("a value that stayed the same is lost, or shown as another") {
  io::TrendStore store(3);
  for (int i = 0; i < 40; ++i)
    store.take(at(i * 0.25), std::vector<double>{7.0, i * 1.0, i < 20 ? 0.0 : 1.0});
  const std::vector<std::size_t> all{0, 1, 2};
  const auto trend = store.last(all, 10s, 1000);
  REQUIRE(trend.at.size() == 40);
  for (std::size_t i = 0; i < 40; ++i) {
    CHECK(trend.values[0][i] == 7.0);
    CHECK(trend.values[1][i] == static_cast<double>(i));
    CHECK(trend.values[2][i] == (i < 20 ? 0.0 : 1.0));
  }
}

TEST_CASE("values that come too close are kept, and make the trend longer than it is") {
  io::TrendStore store(1);
  for (int i = 0; i <= 100; ++i) store.take(at(i * 0.05), std::vector<double>{i * 1.0});
  const std::vector<std::size_t> first{0};
  const auto trend = store.last(first, 10s, 1000);
  REQUIRE(trend.at.size() == 26);  // every 0.2 s of 5 s
  CHECK(trend.values[0].back() == 100.0);
}

TEST_CASE("no value is shown as a number") {
  io::TrendStore store(1);
  const double none = std::numeric_limits<double>::quiet_NaN();
  store.take(at(0), std::vector<double>{1.0});
  store.take(at(1), std::vector<double>{none});
  store.take(at(2), std::vector<double>{none});
  store.take(at(3), std::vector<double>{2.0});
  const std::vector<std::size_t> first{0};
  const auto trend = store.last(first, 10s, 1000);
  CHECK(trend.values[0][0] == 1.0);
  CHECK(std::isnan(trend.values[0][1]));
  CHECK(std::isnan(trend.values[0][2]));
  CHECK(trend.values[0][3] == 2.0);
}

TEST_CASE("a trend of hours grows without end, or begins at the wrong value") {
  io::TrendStore store(2);
  const int rows = 4 * 3600;
  for (int i = 0; i < rows; ++i) store.take(at(i * 0.25), std::vector<double>{5.0, std::floor(i / 1000.0)});
  const std::vector<std::size_t> both{0, 1};
  const auto trend = store.last(both, 24h, 100000);
  CHECK(to_seconds(trend.at.back() - trend.at.front()) <= 1800.0 + 20.0);
  CHECK(to_seconds(trend.at.back() - trend.at.front()) >= 1800.0 - 20.0);
  for (std::size_t i = 0; i < trend.at.size(); ++i) {
    REQUIRE(trend.values[0][i] == 5.0);
    REQUIRE(trend.values[1][i] == std::floor(to_seconds(trend.at[i]) * 4.0 / 1000.0));
  }
}

TEST_CASE("a spike is missing from a long trend") {
  io::TrendStore store(3);
  const double none = std::numeric_limits<double>::quiet_NaN();
  for (int i = 0; i < 7200; ++i)
    store.take(at(i * 0.25), std::vector<double>{i == 3001   ? 90.0
                                                 : i == 5003 ? -90.0
                                                             : 20.0,
                                                 i * 1.0, i >= 1000 && i < 1100 ? none : 1.0});
  const std::vector<std::size_t> all{0, 1, 2};
  const auto trend = store.last(all, 1h, 1500);
  REQUIRE(trend.at.size() <= 1500);
  CHECK(trend.at.size() >= 1490);
  const auto& spiky = trend.values[0];
  CHECK(*std::max_element(spiky.begin(), spiky.end()) == 90.0);
  CHECK(*std::min_element(spiky.begin(), spiky.end()) == -90.0);
  for (std::size_t i = 0; i < trend.at.size(); ++i) {
    const double seconds = to_seconds(trend.at[i]);
    if (i > 0) REQUIRE(trend.at[i - 1] < trend.at[i]);
    // Each extreme stands near the instant it was at.
    if (spiky[i] == 90.0) CHECK(seconds == doctest::Approx(3001 * 0.25).epsilon(0.005));
    if (spiky[i] == -90.0) CHECK(seconds == doctest::Approx(5003 * 0.25).epsilon(0.005));
    REQUIRE(trend.values[1][i] == seconds * 4.0);  // a ramp stays one
    if (std::isnan(trend.values[2][i])) CHECK((seconds >= 250.0 && seconds < 275.0));
  }
  CHECK(std::count_if(trend.values[2].begin(), trend.values[2].end(), [](double v) { return v != v; }) > 10);
}

TEST_CASE("a walk through a trend takes in what came later, or trips over what was forgotten") {
  io::TrendStore store(1);
  for (int i = 0; i < 1000; ++i) store.take(at(i * 0.25), std::vector<double>{i * 1.0});
  io::TrendStore::Walk walk(store, {0}, 1h);
  CHECK(walk.left() == 1000);
  REQUIRE(walk.next());
  CHECK(walk.value(0) == 0.0);
  for (int i = 1000; i < 7600; ++i) store.take(at(i * 0.25), std::vector<double>{i * 1.0});
  double before = 0.0;
  while (walk.next()) {
    REQUIRE(walk.value(0) == to_seconds(walk.at()) * 4.0);
    before = walk.value(0);
  }
  CHECK(before == 999.0);
}

TEST_CASE("a long trend is cut short instead of thinned, or loses its newest value") {
  io::TrendStore store(1);
  for (int i = 0; i < 1000; ++i) store.take(at(i * 0.25), std::vector<double>{i * 1.0});
  const std::vector<std::size_t> first{0};
  const auto trend = store.last(first, 1h, 100);
  CHECK(trend.at.size() == 99);  // 49 pieces of two, and the newest
  CHECK(trend.values[0].back() == 999.0);
  CHECK(trend.values[0].front() < 10.0);
  CHECK(store.last(first, 10s, 1000).at.size() == 41);
  CHECK(io::TrendStore(1).last(first, 10s, 1000).at.empty());
}

TEST_CASE("many signals that never stand still fill the memory, or cost the half hour its beginning") {
  constexpr std::size_t kSignals = 50, kMost = 10'000;
  io::TrendStore store(kSignals, kMost);
  std::vector<double> values(kSignals);
  std::vector<std::size_t> all(kSignals);
  for (std::size_t s = 0; s < kSignals; ++s) all[s] = s;
  for (int i = 0; i < 4 * 4 * 3600; ++i) {
    std::fill(values.begin(), values.end(), i * 1.0);
    store.take(at(i * 0.25), values);
    if (i % 1000 != 0) continue;
    const auto trend = store.last(all, 1h, 100'000);
    REQUIRE(trend.at.size() * kSignals <= kMost + 3 * kSignals);
    if (i >= 4 * 1900) REQUIRE(to_seconds(trend.at.back() - trend.at.front()) >= 1770.0);
  }
  const auto trend = store.last(all, 1h, 100'000);
  CHECK(trend.at.size() * kSignals >= kMost / 2 * 9 / 10);
  for (std::size_t i = 0; i < trend.at.size(); ++i)
    REQUIRE(trend.values[kSignals - 1][i] == to_seconds(trend.at[i]) * 4.0);
}

TEST_CASE("what happens right after everything has moved at once is missing from the curve") {
  io::TrendStore store(10, 100);
  // Still, then a fault that moves all of it, for as long as there is room.
  const auto value = [](int i) { return i < 3000 ? 1.0 : i < 3004 ? i * 1.0 : 2.0; };
  for (int i = 0; i < 4000; ++i) store.take(at(i * 0.25), std::vector<double>(10, value(i)));
  const std::vector<std::size_t> first{0};
  const auto trend = store.last(first, 1h, 100'000);
  REQUIRE(trend.at.size() == 4000);
  for (int i = 2999; i < 3006; ++i) CHECK(trend.values[0][static_cast<std::size_t>(i)] == value(i));
}

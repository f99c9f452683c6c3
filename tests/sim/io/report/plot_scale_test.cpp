#include "sim/io/report/plot_scale.hpp"

#include <doctest/doctest.h>

using namespace emberline;
using namespace std::chrono_literals;

TEST_CASE("an axis of values has crooked ends, cuts a curve off, or has too many lines") {
  const struct {
    double lowest, highest, bottom, top, step;
  } cases[] = {{0, 11.9, 0, 15, 5},       {0, 50, 0, 50, 10},           {318, 320, 318, 320, 0.5},
               {-3, 4, -4, 4, 2},         {0, 0.0031, 0, 0.004, 0.001}, {540, 540, 480, 600, 50},
               {20.5, 1234, 0, 1500, 500}};
  for (const auto& row : cases) {
    CAPTURE(row.lowest);
    CAPTURE(row.highest);
    const auto scale = io::value_scale(row.lowest, row.highest);
    CHECK(scale.bottom <= row.lowest + 1e-9);
    CHECK(scale.top >= row.highest - 1e-9);
    CHECK((scale.top - scale.bottom) / scale.step <= 7.0 + 1e-9);
    CHECK((scale.top - scale.bottom) / scale.step >= 2.0 - 1e-9);
    if (row.lowest == row.highest) continue;
    CHECK(scale.step == doctest::Approx(row.step));
    CHECK(scale.bottom == doctest::Approx(row.bottom));
    CHECK(scale.top == doctest::Approx(row.top));
  }
}

TEST_CASE("an axis of time has crooked lines, or hours are told in seconds") {
  const struct {
    Duration ends;
    std::size_t ticks;
    const char* second;
    const char* unit;
  } cases[] = {{60s, 7, "10", "s"},
               {400ms, 9, "0.05", "s"},
               {10min, 11, "1:00", "min:s"},
               {8h, 9, "1:00", "h:min"},
               {24h, 7, "4:00", "h:min"},
               {0s, 2, "0.001", "s"},
               {24h * 400, 11, nullptr, "h:min"}};
  for (const auto& row : cases) {
    CAPTURE(to_seconds(row.ends));
    const auto scale = io::time_scale(SimTime{row.ends});
    CHECK(scale.unit == row.unit);
    if (row.second == nullptr) continue;
    CHECK(scale.ticks.size() == row.ticks);
    CHECK(scale.ticks.front().label.substr(0, 1) == "0");
    CHECK(scale.ticks.at(1).label == row.second);
  }
}

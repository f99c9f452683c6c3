#include "sim/bench/demand_meter.hpp"

#include <doctest/doctest.h>

using namespace emberline;
using namespace std::chrono_literals;

TEST_CASE("a steady power has itself as its demand once an interval has ended, and not before") {
  bench::DemandMeter meter(15min);
  meter.pass(Duration(15min) - Duration(1s), 12e3);
  CHECK(meter.demand_W() == 0.0);
  meter.pass(1s, 12e3);
  CHECK(meter.demand_W() == doctest::Approx(12e3));
  CHECK(meter.peak_W() == doctest::Approx(12e3));
}

TEST_CASE("a short peak counts for what it adds to its interval and no more") {
  bench::DemandMeter meter(15min);
  meter.pass(90s, 100e3);  // a tenth of the interval
  meter.pass(Duration(15min) - Duration(90s), 0.0);
  CHECK(meter.demand_W() == doctest::Approx(10e3));
}

TEST_CASE("a lower interval lowers the demand and leaves the peak") {
  bench::DemandMeter meter(1min);
  meter.pass(1min, 6e3);
  meter.pass(1min, 2e3);
  CHECK(meter.demand_W() == doctest::Approx(2e3));
  CHECK(meter.peak_W() == doctest::Approx(6e3));
}

TEST_CASE("a stretch over several intervals counts in each of them") {
  bench::DemandMeter meter(1min);
  meter.pass(30s, 0.0);
  meter.pass(2min, 6e3);
  CHECK(meter.demand_W() == doctest::Approx(6e3));
  meter.pass(30s, 0.0);  // the third interval was half full
  CHECK(meter.demand_W() == doctest::Approx(3e3));
}

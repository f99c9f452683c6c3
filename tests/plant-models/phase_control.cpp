#include "plant-models/electrical/phase_control.hpp"

#include <cmath>
#include <limits>

#include <doctest/doctest.h>

using namespace emberline::plant;

TEST_CASE("the inverse gives back the angle to 1e-9 degrees") {
  // Near full power the share itself, as a double, no longer tells angles below 1 degree that finely apart.
  for (int step = 16; step <= 180 * 16; ++step) {
    const double angle_deg = step / 16.0;
    CAPTURE(angle_deg);
    CHECK(std::abs(angle_of_power_share(power_share_of_angle(angle_deg)) - angle_deg) <= 1e-9);
  }
}

TEST_CASE("every share, however small, is met by its angle") {
  for (int halvings = 2; halvings <= 100; ++halvings) {
    const double share = std::ldexp(1.0, -halvings);
    CAPTURE(share);
    const double angle_deg = angle_of_power_share(share);
    CHECK(angle_deg < 180.0);
    // A double near 180 degrees moves the share by 3 ulp(180)/(180 - angle), relatively.
    const double tolerance = 1e-12 + 3.0 * 3e-14 / (180.0 - angle_deg);
    CHECK(power_share_of_angle(angle_deg) == doctest::Approx(share).epsilon(tolerance));
    CHECK(power_share_of_angle(angle_of_power_share(1.0 - share)) ==
          doctest::Approx(1.0 - share).epsilon(1e-12));
  }
}

TEST_CASE("a demand outside 0 to 1 is clamped, and one that is no number gives nothing") {
  CHECK(angle_of_power_share(0.0) == 180.0);
  CHECK(angle_of_power_share(-0.5) == 180.0);
  CHECK(angle_of_power_share(1.0) == 0.0);
  CHECK(angle_of_power_share(7.0) == 0.0);
  CHECK(angle_of_power_share(std::numeric_limits<double>::quiet_NaN()) == 180.0);
  CHECK(power_share_of_angle(-10.0) == 1.0);
  CHECK(power_share_of_angle(200.0) == 0.0);
}

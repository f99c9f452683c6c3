#include <cmath>

#include <doctest/doctest.h>

#include "plant-models/electrical/fuse.hpp"
#include "plant-models/electrical/heat_sink.hpp"

using namespace emberline::plant;

namespace {

/// How long a steady current takes to melt a fuse, in steps of `step_s`; negative if it never does.
double melts_after_s(const FuseParameters& parameters, double current_A, double step_s, double longest_s) {
  Fuse fuse(parameters);
  for (double at = step_s; at <= longest_s; at += step_s)
    if (fuse.pass(step_s, current_A)) return at;
  return -1.0;
}

}  // namespace

TEST_CASE("a short pulse melts a fuse by its I squared t") {
  // I^2 t of half a sine: Ip^2 t / 2 = 2000^2 * 10 ms / 2 = 20 kA2s, the integral itself.
  const double rms_A = 2000.0 / std::sqrt(2.0);
  Fuse holds({100.0, 20'100.0});
  CHECK_FALSE(holds.pass(0.010, rms_A));
  Fuse melts({100.0, 19'900.0});
  CHECK(melts.pass(0.010, rms_A));
  CHECK(melts.melted());
}

TEST_CASE("a fuse carries its rating for ever, and melts later the less it is passed") {
  const FuseParameters parameters{63.0, 5e3};
  CHECK(melts_after_s(parameters, 62.9, 0.02, 3600.0) < 0.0);
  double last = 1e9;
  for (const double current : {70.0, 100.0, 200.0, 500.0}) {
    // First order: t = (melting/Ir^2) ln(I^2/(I^2 - Ir^2)).
    const double expected = parameters.melting_A2s / (63.0 * 63.0) *
                            std::log(current * current / (current * current - 63.0 * 63.0));
    const double found = melts_after_s(parameters, current, 0.0001, 100.0);
    CAPTURE(current);
    CHECK(found == doctest::Approx(expected).epsilon(0.01));
    CHECK(found < last);
    last = found;
  }
}

TEST_CASE("a new fuse begins cold, and a melted one carries nothing on") {
  Fuse fuse({10.0, 100.0});
  fuse.melt();
  CHECK(fuse.melted());
  CHECK_FALSE(fuse.pass(1.0, 1000.0));
  fuse.replace();
  CHECK_FALSE(fuse.melted());
  CHECK(fuse.heat() == 0.0);
}

TEST_CASE("a heat sink settles at its loss times its resistance above the cabinet") {
  // Textbook chain T = T_a + P R (IEC thermal-resistance model): 2 x 45.514 W per pair over 0.25 K/W.
  HeatSink sink({0.25, 900.0, 40.0, 3.0});
  for (int i = 0; i < 10'000; ++i) sink.pass(1.0, 91.028);
  CHECK(sink.temperature_degC() == doctest::Approx(40.0 + 22.757).epsilon(1e-9));
}

TEST_CASE("without its fan a heat sink gets hotter by the factor on its resistance") {
  HeatSink sink({0.25, 900.0, 40.0, 3.0});
  sink.set_fan(false);
  for (int i = 0; i < 50'000; ++i) sink.pass(1.0, 91.028);
  CHECK(sink.temperature_degC() == doctest::Approx(40.0 + 3.0 * 22.757).epsilon(1e-9));
  CHECK_FALSE(sink.fan());
}

TEST_CASE("a heat sink's warming does not depend on how its time is cut") {
  HeatSink once({0.25, 900.0, 40.0, 3.0});
  HeatSink often({0.25, 900.0, 40.0, 3.0});
  once.pass(225.0, 100.0);  // one time constant: 63.2 % of 25 K
  for (int i = 0; i < 225 * 50; ++i) often.pass(0.02, 100.0);
  CHECK(once.temperature_degC() == doctest::Approx(40.0 + 25.0 * (1.0 - std::exp(-1.0))));
  CHECK(often.temperature_degC() == doctest::Approx(once.temperature_degC()));
}

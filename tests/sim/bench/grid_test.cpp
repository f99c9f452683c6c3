#include "sim/bench/grid.hpp"

#include <cmath>

#include <doctest/doctest.h>

using namespace emberline;
using namespace std::chrono_literals;
using bench::Grid;

TEST_CASE("the grid is every mains cycle while something is under way, else whole cycles of at most 100 ms") {
  Grid grid(50.0);
  CHECK(grid.next() == SimTime{0ms});
  grid.ran(true);
  CHECK(grid.next() == SimTime{20ms});
  grid.ran(false);
  CHECK(grid.next() == SimTime{100ms});
  grid.ran(false);
  CHECK(grid.next() == SimTime{200ms});
}

TEST_CASE("a disturbance makes the next whole cycle an instant of the grid, wherever it falls") {
  Grid grid(50.0);
  grid.ran(false);
  grid.disturbed(SimTime{41ms});
  CHECK(grid.next() == SimTime{60ms});
  grid.disturbed(SimTime{60ms});
  CHECK(grid.next() == SimTime{60ms});
  grid.ran(true);
  grid.disturbed(SimTime{60ms});  // that instant has been run: the next one serves
  CHECK(grid.next() == SimTime{80ms});
}

TEST_CASE("a mains cycle that is no whole number of nanoseconds does not drift") {
  Grid grid(60.0);
  for (int i = 0; i < 3600 * 60; ++i) grid.ran(true);
  CHECK(grid.next() == SimTime{3600s});
}

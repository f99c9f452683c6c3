#include "plant-models/electrical/burst.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include <doctest/doctest.h>

using namespace emberline::plant;

TEST_CASE("half duty alternates for ever") {
  SpreadBurst burst;
  bool last = burst.next_cycle(0.5);
  for (int cycle = 0; cycle < 1'000'000; ++cycle) {
    const bool now = burst.next_cycle(0.5);
    REQUIRE(now != last);
    last = now;
  }
}

TEST_CASE("full duty never drops a cycle and none never passes one, whatever came before") {
  std::mt19937_64 random(1);
  std::uniform_real_distribution<double> any(0.0, 1.0);
  SpreadBurst burst;
  for (int round = 0; round < 10'000; ++round) {
    burst.next_cycle(any(random));
    for (int cycle = 0; cycle < 3; ++cycle) REQUIRE(burst.next_cycle(1.0));
    burst.next_cycle(any(random));
    for (int cycle = 0; cycle < 3; ++cycle) REQUIRE_FALSE(burst.next_cycle(0.0));
  }
  CHECK_FALSE(burst.next_cycle(std::nan("")));
}

TEST_CASE("the energy given is within one cycle of the energy asked at any time") {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> any(-0.1, 1.1);
  for (const int hold : {1, 7, 100}) {
    SpreadBurst burst;
    long double asked = 0.0;
    long double given = 0.0;
    double duty = 0.0;
    for (int cycle = 0; cycle < 300'000; ++cycle) {
      if (cycle % hold == 0) duty = any(random);
      asked += static_cast<long double>(std::clamp(duty, 0.0, 1.0));
      given += burst.next_cycle(duty) ? 1.0L : 0.0L;
      REQUIRE(std::abs(asked - given) <= 1.0L);
    }
  }
}

TEST_CASE("n of m cycles pass in every m, evenly spread, without a slip from rounding") {
  constexpr struct {
    int on, of;
  } rows[] = {{1, 10}, {3, 10}, {7, 10}, {1, 3}, {2, 3}, {6, 7}, {1, 100}, {99, 100}, {50, 101}};
  for (const auto& row : rows) {
    CAPTURE(row.on);
    CAPTURE(row.of);
    SpreadBurst burst;
    int gap = 0;
    int shortest = 1000;
    int longest = 0;
    bool first = true;
    for (int period = 0; period < 2000; ++period) {
      int passed = 0;
      for (int cycle = 0; cycle < row.of; ++cycle) {
        ++gap;
        if (!burst.next_cycle(static_cast<double>(row.on) / row.of)) continue;
        ++passed;
        if (!first) {
          shortest = std::min(shortest, gap);
          longest = std::max(longest, gap);
        }
        first = false;
        gap = 0;
      }
      REQUIRE(passed == row.on);
    }
    CHECK(longest - shortest <= 1);
  }
}

TEST_CASE("a reset forgets the remainder") {
  SpreadBurst burst;
  CHECK_FALSE(burst.next_cycle(0.9));
  burst.reset();
  CHECK_FALSE(burst.next_cycle(0.9));
  CHECK(burst.next_cycle(0.9));
}

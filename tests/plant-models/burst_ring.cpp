#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/burst.hpp"
#include "sim/base/random.hpp"

using emberline::plant::BurstRing;

namespace {

/// The cycles of a ring as text, one line a member: "##--".
std::vector<std::string> course(BurstRing& ring, const std::vector<double>& duties, int cycles) {
  std::vector<std::string> lines(duties.size());
  for (int cycle = 0; cycle < cycles; ++cycle) {
    ring.next_cycle(duties);
    for (std::size_t m = 0; m < duties.size(); ++m) lines[m] += ring.on(m) ? '#' : '-';
  }
  return lines;
}

int count_on(const std::string& line) { return static_cast<int>(std::count(line.begin(), line.end(), '#')); }

}  // namespace

TEST_CASE("a fixed base gives its duty in one burst, at its beginning") {
  BurstRing ring(10, 1);
  CHECK(course(ring, {0.3}, 20)[0] == "###-------###-------");
}

TEST_CASE("what is left of a cycle is not lost: over many bases the duty is exact") {
  // P = k over whole periods: M. H. Rashid, Power Electronics, ch. 11, on-off control.
  for (const double duty : {0.01, 0.125, 0.333, 0.5, 0.777, 0.99}) {
    BurstRing ring(25, 1);
    const auto line = course(ring, {duty}, 25 * 400)[0];
    CAPTURE(duty);
    CHECK(std::abs(count_on(line) - duty * 25 * 400) <= 1.0);
  }
}

TEST_CASE("a duty of 0 never conducts and one of 100 % always does") {
  BurstRing ring(7, 2);
  const auto lines = course(ring, {0.0, 1.0}, 30);
  CHECK(count_on(lines[0]) == 0);
  CHECK(count_on(lines[1]) == 30);
}

TEST_CASE("members whose duties fit into the base never conduct together") {
  BurstRing ring(20, 3);
  const auto lines = course(ring, {0.25, 0.4, 0.3}, 200);
  for (std::size_t cycle = 0; cycle < lines[0].size(); ++cycle) {
    int on = 0;
    for (const auto& line : lines) on += line[cycle] == '#' ? 1 : 0;
    CHECK(on <= 1);
  }
}

TEST_CASE("of duties that do not fit no more members conduct together than have to") {
  emberline::Random random(7);
  for (int round = 0; round < 200; ++round) {
    const std::vector<double> duties{random.unit(), random.unit(), random.unit(), random.unit()};
    BurstRing ring(50, duties.size());
    const auto lines = course(ring, duties, 50);
    int given = 0;
    for (const auto& line : lines) given += count_on(line);
    const int least = (given + 49) / 50;
    for (std::size_t cycle = 0; cycle < 50; ++cycle) {
      int on = 0;
      for (const auto& line : lines) on += line[cycle] == '#' ? 1 : 0;
      CHECK(on <= least);
    }
  }
}

TEST_CASE("who no longer asks is off at once, in the middle of its burst") {
  BurstRing ring(10, 1);
  CHECK(course(ring, {0.8}, 3)[0] == "###");
  CHECK(course(ring, {0.0}, 3)[0] == "---");
  CHECK(course(ring, {0.5}, 10)[0] == "#####-----");
}

TEST_CASE("a changed duty counts from the next base on") {
  BurstRing ring(10, 1);
  CHECK(course(ring, {0.2}, 5)[0] == "##---");
  CHECK(course(ring, {0.9}, 15)[0] == "-----#########-");
}

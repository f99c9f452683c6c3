#include "sim/bench/soonest.hpp"

#include <optional>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"

using namespace emberline;
using bench::Soonest;

namespace {

SimTime at(std::int64_t count) { return SimTime{Duration{count}}; }

}  // namespace

TEST_CASE("without anything to come nothing is soonest and nothing is due") {
  Soonest none(0);
  CHECK_FALSE(none.first());
  CHECK_FALSE(none.due(0, at(1'000'000)));
  Soonest three(3);
  CHECK_FALSE(three.first());
  CHECK_FALSE(three.due(0, at(1'000'000)));
  CHECK_FALSE(three.due(3, at(1'000'000)));
}

TEST_CASE("of many timers that come and go none is missed, and none comes before its turn") {
  // Held against looking at every one of them.
  Random chance(7);
  for (const std::size_t count : {1U, 2U, 3U, 64U, 65U, 200U}) {
    CAPTURE(count);
    Soonest soonest(count);
    std::vector<std::optional<SimTime>> all(count);
    for (int turn = 0; turn < 2000; ++turn) {
      const auto index = static_cast<std::size_t>(chance.unit() * static_cast<double>(count));
      all[index] = chance.unit() < 0.3 ? std::nullopt
                                       : std::optional(at(static_cast<std::int64_t>(chance.unit() * 50)));
      soonest.set(index, all[index]);
      std::optional<SimTime> first;
      for (const auto& one : all)
        if (one && (!first || *one < *first)) first = one;
      CHECK(soonest.first() == first);
      const SimTime now = at(static_cast<std::int64_t>(chance.unit() * 50));
      const auto from = static_cast<std::size_t>(chance.unit() * static_cast<double>(count + 1));
      std::optional<std::size_t> due;
      for (std::size_t k = count; k-- > from;)
        if (all[k] && *all[k] <= now) due = k;
      CHECK(soonest.due(from, now) == due);
    }
  }
}

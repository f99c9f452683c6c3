// Trips and the comms-loss latch together, in random order of events, against rules looked up in a list of
// all that happened: no state machine of its own.
#include <algorithm>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "tests/sim/unit/plant_rig.hpp"
#include "tests/support/this_build.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::Trip;

namespace {

/// What a trip depends on, and every edge since it tripped.
struct Watched {
  Trip trip;
  Protection protection;
  std::vector<ResetBy> reset_by;
  bool cause = false;  ///< the test lets it be there
  bool was_latched = false;
  long cause_seen_at = 0;  ///< number of the last cycle that showed it
};

/// The last two changes of each level, by number of the event: an edge began at the first and ended at the
/// other.
struct Edge {
  long began = -1;
  long ended = -1;
};

struct World {
  explicit World(std::uint64_t seed) : random(seed), rig(spec(random)) {
    for (auto& one : watched) one.reset_by = of(rig.spec, one.protection).reset_by;
    rig.set(600);
  }

  static std::vector<ResetBy> some_ways(Random& random) {
    std::vector<ResetBy> ways;
    for (const ResetBy by : {ResetBy::enable_cycle, ResetBy::reset_terminal, ResetBy::reset_register})
      if (random.below(2) == 0) ways.push_back(by);
    if (ways.empty()) ways.push_back(ResetBy::enable_cycle);
    return ways;
  }
  static UnitSpec spec(Random& random) {
    UnitSpec spec = plant_spec();
    spec.comms_loss.timeout = 3s;
    spec.comms_loss.reset_by = some_ways(random);
    spec.comms_loss.setpoint_after_reset = SetpointAfterReset::keep;
    for (auto& protection : spec.protections) protection.reset_by = some_ways(random);
    of(spec, Protection::phase_lost).after = static_cast<int>(random.below(4)) * 20ms;
    return spec;
  }

  /// One event, then the cycle it falls in is seen or not.
  void event() {
    ++number;
    power_cycled = false;
    switch (random.below(12)) {
      case 0:
        level(enable_closed, !enable_closed, ResetBy::enable_cycle);
        rig.enable(enable_closed, rig.now);
        break;
      case 1:
        level(terminal_closed, !terminal_closed, ResetBy::reset_terminal);
        rig.reset_terminal(terminal_closed, rig.now);
        break;
      case 2: {
        const bool one = random.below(2) == 0;
        if (rig.unit.state() >= State::stopped) {
          if (one != register_one) level(register_one, one, ResetBy::reset_register);
          rig.write(kReset, one ? 1 : 0, rig.now);
        }
        break;
      }
      case 3:
        rig.poll();
        break;
      case 4:
        if (random.below(20) == 0) power(false);
        break;
      case 5:
        if (rig.unit.state() == State::unpowered) power(true);
        break;
      case 6:
      case 7:
        toggle(watched[random.below(watched.size())]);
        break;
      default:
        cycles(1 + static_cast<int>(random.below(30)));
    }
    check();
  }

  void level(bool& held, bool now, ResetBy by) {
    held = now;
    auto& edge = edges[static_cast<std::size_t>(by)];
    const bool starts = by == ResetBy::enable_cycle ? !now : now;
    if (starts) {
      edge.began = number;
      // Of a contact and of a register the change itself is the edge.
      if (by != ResetBy::enable_cycle) edge.ended = number;
    } else if (by == ResetBy::enable_cycle) {
      edge.ended = number;
    }
  }
  void power(bool on) {
    rig.unit.set_powered(on, at(rig.now));
    power_cycled = true;
    register_one = false;
    for (auto& one : watched) one.was_latched = false;
  }
  void toggle(Watched& one) {
    one.cause = !one.cause;
    rig.measured.heatsink_degC = watched[0].cause ? 120.0 : 40.0;
    rig.supply_V[1] = watched[1].cause ? 0.0 : 230.0;
    rig.measured.cycle.fuse_open[2] = watched[2].cause;
    rig.off_A = watched[3].cause ? 30.0 : 0.0;
  }
  void cycles(int count) {
    for (int i = 0; i < count; ++i) {
      ++number;
      rig.step();
      for (auto& one : watched)
        if (one.cause && rig.unit.state() >= State::stopped) one.cause_seen_at = number;
      check();
      power_cycled = false;
    }
  }

  /// The rules that hold whatever happened.
  void check() {
    const State state = rig.unit.state();
    const auto bits = static_cast<std::uint32_t>(rig.value(Point::trips));
    const bool protection_bits = (bits & ~registers::bit(Trip::comms_loss)) != 0;
    REQUIRE((state == State::tripped) == protection_bits);  // comms loss alone is never state 7
    REQUIRE((bits >> 6u) == 0);
    if (bits != 0) REQUIRE(rig.output() == 0.0);
    if (state == State::inhibited) REQUIRE((bits & registers::bit(Trip::comms_loss)) != 0);
    if (state == State::unpowered) REQUIRE(bits == 0);
    for (auto& one : watched) {
      const bool latched = (bits & registers::bit(one.trip)) != 0;
      if (!latched && one.was_latched) {
        ++resets;
        REQUIRE(cleared_by_right(one));
      }
      if (latched && !one.was_latched) {
        ++latches;
        REQUIRE(one.cause);  // nothing trips without its cause
      }
      one.was_latched = latched;
    }
  }
  /// This very event ended an edge that the trip allows, begun after the last cycle that showed the cause.
  bool cleared_by_right(const Watched& one) const {
    if (power_cycled) return true;
    return std::any_of(one.reset_by.begin(), one.reset_by.end(), [&](ResetBy by) {
      const auto& edge = edges[static_cast<std::size_t>(by)];
      return edge.ended == number && edge.began > one.cause_seen_at;
    });
  }

  Random random;
  PlantRig rig;
  std::array<Watched, 4> watched{{
      {Trip::heatsink_over_temperature, Protection::heatsink_over_temperature, {}},
      {Trip::phase_lost, Protection::phase_lost, {}},
      {Trip::fuse_open, Protection::fuse_open, {}},
      {Trip::thyristor_shorted, Protection::thyristor_shorted, {}},
  }};
  std::array<Edge, 3> edges{};
  bool enable_closed = true, terminal_closed = false, register_one = false, power_cycled = false;
  long number = 0;
  int latches = 0, resets = 0;
};

}  // namespace

TEST_CASE(
    "in some order of events a tripped unit heats, or leaves its trip without the cause gone and a reset") {
  const std::uint64_t worlds = 60 * testing::times_as_long();
  int latches = 0, resets = 0;
  for (std::uint64_t seed = 1; seed <= worlds; ++seed) {
    CAPTURE(seed);
    World world(seed);
    for (int i = 0; i < 600; ++i) world.event();
    latches += world.latches;
    resets += world.resets;
  }
  MESSAGE((600 * worlds) << " events, " << latches << " trips, " << resets << " resets");
  CHECK(latches > 500);
  CHECK(resets > 100);
}

TEST_CASE("a trip is not to be got rid of: cause gone, comms there, every reset tried") {
  const std::uint64_t worlds = 30 * testing::times_as_long();
  for (std::uint64_t seed = 1000; seed < 1000 + worlds; ++seed) {
    CAPTURE(seed);
    World world(seed);
    for (int i = 0; i < 300; ++i) world.event();
    for (auto& one : world.watched)
      if (one.cause) world.toggle(one);
    if (world.rig.unit.state() == State::unpowered) world.power(true);
    world.cycles(100);
    world.rig.poll();
    world.rig.cycle(world.rig.now);
    world.rig.enable(false, world.rig.now);
    world.rig.enable(true, world.rig.now);
    world.rig.reset_terminal(false, world.rig.now);
    world.rig.reset_terminal(true, world.rig.now);
    world.rig.write(kReset, 0, world.rig.now);
    world.rig.write(kReset, 1, world.rig.now);
    CHECK(world.rig.value(Point::trips) == 0.0);
    CHECK(world.rig.unit.state() == State::running);
  }
}

// The watchdog under random orders of events, against a second telling of its rules and against what must
// hold whatever the rules say in detail.
#include <deque>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "tests/sim/unit/reference_unit.hpp"
#include "tests/sim/unit/rig.hpp"
#include "tests/support/this_build.hpp"

using namespace emberline;
using namespace emberline::unit;

namespace {

using Config = ReferenceUnit::Config;
using Frame = ReferenceUnit::Frame;
constexpr Duration kTick = 100ms;

Config random_config(Random& random) {
  Config c;
  c.timeout = static_cast<int>(random.below(5));
  c.policy = random.below(2) != 0 ? Policy::latch_to_inhibit : static_cast<Policy>(random.below(3));
  c.feeds = random.below(2) != 0 ? Feeds::any_request : static_cast<Feeds>(random.below(4));
  c.from_power_up = random.below(2) != 0;
  c.acts_always = random.below(4) == 0;
  c.zero_after_reset = random.below(2) != 0;
  c.latch_survives = random.below(2) != 0;
  c.keep = random.below(2) != 0;
  c.restored_after = 1 + static_cast<int>(random.below(3));
  c.start_up = 1 + static_cast<int>(random.below(3));
  c.by_enable = random.below(4) != 0;
  c.by_terminal = random.below(2) != 0;
  c.by_register = random.below(2) != 0;
  return c;
}

UnitSpec spec_of(const Config& c) {
  static const auto plain = make_table();
  static const auto keeping = make_table({.keep = true, .out_of_range = registers::OutOfRange::exception_03});
  UnitSpec spec = base_spec();
  spec.table = c.keep ? keeping : plain;
  spec.start_up = c.start_up * kTick;
  spec.local_setpoint = c.local / 1000.0;
  auto& loss = spec.comms_loss;
  loss.timeout = c.timeout * kTick;
  loss.policy = c.policy;
  loss.preset = c.preset / 1000.0;
  loss.feeds = c.feeds;
  loss.from = c.from_power_up ? ArmedFrom::power_up : ArmedFrom::first_request;
  loss.acts_in = c.acts_always ? ActsIn::always : ActsIn::remote;
  loss.setpoint_after_reset = c.zero_after_reset ? SetpointAfterReset::zero : SetpointAfterReset::keep;
  loss.latch_survives_power = c.latch_survives;
  loss.restored_after = c.restored_after;
  loss.reset_by.clear();
  if (c.by_enable) loss.reset_by.push_back(ResetBy::enable_cycle);
  if (c.by_terminal) loss.reset_by.push_back(ResetBy::reset_terminal);
  if (c.by_register) loss.reset_by.push_back(ResetBy::reset_register);
  RelaySpec relay;
  relay.name = "K1";
  relay.on_warnings = registers::bit(registers::Warning::comms_loss);
  relay.on_trips = registers::bit(registers::Trip::comms_loss);
  spec.relays.push_back(relay);
  return spec;
}

/// One event as an outsider sees it, for what must hold whatever the rules say in detail.
struct Event {
  enum Kind { frame, enable, reset_terminal, power, timers } kind = timers;
  int tick = 0;
  bool level = false;  ///< of the terminal or the control supply
  bool fed = false;    ///< a frame that feeds
  bool register_edge = false;
  int timeout = 0;  ///< in force when it came, ticks
};

Frame random_frame(Random& random) {
  Frame f;
  f.counts = random.below(5) != 0;
  switch (random.below(10)) {
    case 0:
    case 1:
      f.writes = Frame::setpoint;
      f.value = static_cast<int>(random.below(1001));
      break;
    case 2:
      f.writes = Frame::heartbeat;
      f.value = static_cast<int>(random.below(2));
      break;
    case 3:
    case 4:
      f.writes = Frame::reset;
      f.value = static_cast<int>(random.below(2));
      break;
    case 5:
      f.writes = static_cast<decltype(f.writes)>(Frame::source + static_cast<int>(random.below(3)));
      f.value = static_cast<int>(random.below(f.writes == Frame::timeout  ? 5
                                              : f.writes == Frame::policy ? 3
                                                                          : 2));
      break;
    default:
      f.refused = random.below(4) == 0;
  }
  return f;
}

modbus::Bytes pdu_of(const Frame& f) {
  if (f.refused) return Rig::read_pdu(kNowhere);
  const auto value = static_cast<std::uint16_t>(f.value);
  switch (f.writes) {
    case Frame::nothing:
      return Rig::read_pdu(kState);
    case Frame::setpoint:
      return Rig::write_pdu(kSetpoint, value);
    case Frame::source:
      return Rig::write_pdu(kSource, value);
    case Frame::timeout:
      return Rig::write_pdu(kTimeout, value);
    case Frame::policy:
      return Rig::write_pdu(kPolicy, value);
    case Frame::heartbeat:
      return Rig::write_pdu(kHeartbeat, value);
    case Frame::reset:
      return Rig::write_pdu(kReset, value);
  }
  return {};
}

/// Plays one bench through random events.
class Play {
 public:
  Play(Random& random, const Config& config)
      : random_(random), config_(config), rig_(spec_of(config)), reference_(config) {}

  void step() {
    Event event;
    if (random_.below(3) != 0) {
      tick_ += 1 + static_cast<int>(random_.below(random_.below(4) == 0 ? 5 : 2));
      reference_.go_to(tick_);
    }
    event.tick = tick_;
    event.timeout = static_cast<int>(rig_.value(Point::comms_timeout) * 10.0 + 0.5);
    switch (random_.below(16)) {
      case 0:
      case 1:
      case 2:
        event.kind = Event::enable;
        event.level = !rig_.unit.terminal(Terminal::enable);
        rig_.enable(event.level, now());
        reference_.terminal_enable(event.level);
        break;
      case 3:
      case 4:
        event.kind = Event::reset_terminal;
        event.level = !rig_.unit.terminal(Terminal::reset);
        rig_.reset_terminal(event.level, now());
        reference_.terminal_reset(event.level);
        break;
      case 5:
        event.kind = Event::power;
        event.level = random_.below(3) != 0;
        rig_.unit.set_powered(event.level, at(now()));
        reference_.power(event.level);
        break;
      case 6:
      case 7:
      case 8:
      case 9:
        rig_.run(now());
        reference_.timers();
        REQUIRE((!rig_.unit.next_timer() || *rig_.unit.next_timer() > at(now())));
        break;
      default:
        frame(event);
    }
    events_.push_back(event);
    compare();
    check_latch();
  }

  [[nodiscard]] int latches() const { return latches_; }
  [[nodiscard]] int resets() const { return resets_; }

 private:
  [[nodiscard]] Duration now() const { return tick_ * kTick; }

  void frame(Event& event) {
    const Frame f = random_frame(random_);
    event.kind = Event::frame;
    const double register_before = rig_.value(Point::reset);
    const auto answer = rig_.send(pdu_of(f), now(), f.counts ? "field" : "ethernet");
    reference_.frame(f);
    if (!answer) return;
    const bool refused = modbus::refusal_of(*answer).has_value();
    const bool wrote = !refused && f.writes != Frame::nothing;
    const bool beat = wrote && f.writes == Frame::heartbeat && heartbeat_ != f.value;
    if (wrote && f.writes == Frame::heartbeat) heartbeat_ = f.value;
    event.fed = f.counts &&
                (config_.feeds == Feeds::any_request || (config_.feeds == Feeds::good_request && !refused) ||
                 (config_.feeds == Feeds::write && wrote) || (config_.feeds == Feeds::heartbeat && beat));
    event.register_edge = wrote && f.writes == Frame::reset && f.value == 1 && register_before == 0.0;
  }

  void compare() {
    REQUIRE(static_cast<int>(rig_.state()) == reference_.state());
    REQUIRE(rig_.output() == doctest::Approx(reference_.output() / 1000.0));
    REQUIRE(rig_.warns() == reference_.lost);
    REQUIRE(rig_.tripped() == reference_.latched);
    REQUIRE(rig_.value(Point::setpoint) == doctest::Approx(reference_.setpoint / 1000.0));
    REQUIRE(rig_.unit.relay_closed(0) == (reference_.powered && !reference_.lost && !reference_.latched));
    REQUIRE((!rig_.unit.next_timer() || *rig_.unit.next_timer() >= at(now())));
  }

  /// A latched unit drives nothing, and only "comms back, then a new reset edge" or a loss of power ends it.
  void check_latch() {
    const Event& event = events_.back();
    const auto here = events_.size() - 1;
    const bool off = event.kind == Event::power && !event.level;
    if (off) heartbeat_ = -1;
    const bool warned = rig_.warns();
    const bool latched = rig_.tripped();
    if ((warned && !warned_) || (latched && !latched_) || off) loss_ = here;
    if (latched) REQUIRE(rig_.output() == 0.0);
    if (latched && !latched_) ++latches_;
    if (latched_ && !latched) {
      if (off) {
        REQUIRE_FALSE(config_.latch_survives);
      } else {
        REQUIRE(is_reset(here));
        ++resets_;
      }
    }
    warned_ = warned;
    latched_ = latched;
  }

  [[nodiscard]] bool is_reset(std::size_t here) const {
    // The last frame of the first run of feeding frames since the loss that is long and close enough.
    std::optional<std::size_t> back;
    int run = 0;
    int last = 0;
    for (std::size_t i = loss_; i <= here && !back; ++i) {
      if (!events_[i].fed) continue;
      const bool close = events_[i].timeout == 0 || events_[i].tick - last < events_[i].timeout;
      run = run > 0 && close ? run + 1 : 1;
      last = events_[i].tick;
      if (run == config_.restored_after) back = i;
    }
    if (!back || here <= *back) return false;
    const Event& event = events_[here];
    if (event.register_edge) return config_.by_register;
    if (event.kind == Event::reset_terminal) return config_.by_terminal && event.level;
    if (event.kind != Event::enable || !event.level || !config_.by_enable) return false;
    for (std::size_t i = here; i-- > *back + 1;)
      if (events_[i].kind == Event::enable) return !events_[i].level;
    return false;
  }

  Random& random_;
  Config config_;
  Rig rig_;
  ReferenceUnit reference_;
  std::vector<Event> events_;
  int tick_ = 0;
  int heartbeat_ = -1;
  std::size_t loss_ = 0;
  bool warned_ = false;
  bool latched_ = false;
  int latches_ = 0;
  int resets_ = 0;
};

}  // namespace

TEST_CASE("in some order of events a latched unit heats before comms are back and a new reset came") {
  const int kPlays = testing::sanitized() ? 1000 : 4000 * testing::times_as_long();
  constexpr int kEvents = 60;
  int latches = 0;
  int resets = 0;
  for (int seed = 0; seed < kPlays; ++seed) {
    CAPTURE(seed);
    Random random(static_cast<std::uint64_t>(seed));
    Play play(random, random_config(random));
    for (int i = 0; i < kEvents; ++i) {
      CAPTURE(i);
      play.step();
    }
    latches += play.latches();
    resets += play.resets();
  }
  MESSAGE((kPlays * kEvents) << " events, " << latches << " latches, " << resets << " resets");
  // Otherwise the events would be of a kind that tries nothing.
  CHECK(latches > kPlays / 2);
  CHECK(resets > kPlays / 20);
}

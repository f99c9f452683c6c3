#pragma once

#include <algorithm>
#include <vector>

#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// A second, slower telling of the watchdog's rules, to hold the unit against. It knows no due times: it
/// lives in ticks and looks at every one of them; and it keeps no edge detectors: it remembers every change
/// with its number and looks back. Open loop, no ramp, supply always there, table of the rig.
class ReferenceUnit {
 public:
  using Policy = registers::Policy;
  struct Config {
    int timeout = 3;  ///< ticks
    Policy policy = Policy::latch_to_inhibit;
    int preset = 200;  ///< per mille
    Feeds feeds = Feeds::any_request;
    bool from_power_up = false;
    bool acts_always = false;
    bool zero_after_reset = true;
    bool latch_survives = false;
    bool keep = false;
    int restored_after = 1;
    int start_up = 2;  ///< ticks
    int local = 300;   ///< per mille
    bool by_enable = true, by_terminal = false, by_register = false;
  };
  struct Frame {
    bool counts = true;    ///< came over a line that counts
    bool refused = false;  ///< answered with an exception
    enum { nothing, setpoint, source, timeout, policy, heartbeat, reset } writes = nothing;
    int value = 0;
  };

  explicit ReferenceUnit(const Config& config) : c(config) {
    factory();
    if (c.from_power_up) feeds.push_back({0, 0});
  }

  // --- time
  void go_to(int tick) {
    for (; now < tick; ++now) timers();
  }
  void timers() {
    if (powered && starting && now >= start_end) {
      starting = false;
      feeds.clear();
      if (c.from_power_up) feeds.push_back({now, lost_at});  // arms, but is no frame
      lost = false;
    }
    if (overdue() == 0) lose();
  }

  // --- what happens
  void frame(const Frame& f) {
    if (!powered || starting) return;
    ++number;
    bool heartbeat_moved = false;
    const int old_timeout = timeout;
    const Policy old_policy = policy;
    bool reset_edge = false;
    if (!f.refused) {
      if (f.writes == Frame::setpoint) {
        setpoint = f.value;
        in_preset = false;
      }
      if (f.writes == Frame::source) local = f.value != 0;
      if (f.writes == Frame::timeout) timeout = f.value;
      if (f.writes == Frame::policy) policy = static_cast<Policy>(f.value);
      if (f.writes == Frame::heartbeat) {
        heartbeat_moved = heartbeat != f.value;
        heartbeat = f.value;
      }
      if (f.writes == Frame::reset) {
        reset_edge = f.value == 1 && reg.back().level == 0;
        if (f.value != reg.back().level) reg.push_back({f.value, number});
      }
    }
    if (reset_edge && c.by_register && begun_after_back(reg, false)) clear_latch();
    const bool wrote = !f.refused && f.writes != Frame::nothing;
    const bool feeding =
        f.counts && (c.feeds == Feeds::any_request || (c.feeds == Feeds::good_request && !f.refused) ||
                     (c.feeds == Feeds::write && wrote) || (c.feeds == Feeds::heartbeat && heartbeat_moved));
    // Whether comms are back is judged with the timeout that held when the frame came.
    const int new_timeout = timeout;
    timeout = old_timeout;
    if (feeding) {
      feeds.push_back({now, number});
      if (latched && back == 0 && restored()) back = number;
      if (!latched || back == number) lost = false;
    }
    timeout = new_timeout;
    if (timeout != old_timeout && lost) lost = timeout != 0 && feeds.back().tick + timeout <= now;
    if (timeout != old_timeout && overdue() > 0) lose();
    if (lost && policy != old_policy) act();
    if (lost && !was_acting && acting()) act();
    settle();
  }
  void terminal_enable(bool closed) { change(enable, closed, c.by_enable, true); }
  void terminal_reset(bool closed) { change(reset_wire, closed, c.by_terminal, false); }
  void power(bool on) {
    if (on == powered) return;
    powered = on;
    starting = on;
    start_end = now + c.start_up;
    if (!on) {
      if (!c.latch_survives) latched = false;
      factory();
    }
    settle();
  }

  // --- what is seen
  [[nodiscard]] int state() const {
    if (!powered) return 0;
    if (starting) return 1;
    if (latched) return 6;
    if (enable.back().level == 0) return 2;
    if (in_preset && acting()) return 5;
    if (lost && acting() && policy == Policy::hold_last_command) return 4;
    return 3;
  }
  [[nodiscard]] int output() const {
    switch (state()) {
      case 3:
        return command();
      case 4:
        return held;
      case 5:
        return c.preset;
      default:
        return 0;
    }
  }

  struct Feed {
    int tick;
    int number;
  };
  struct Level {
    int level;
    int number;
  };
  Config c;
  int now = 0;
  int number = 0;  ///< of the event
  bool powered = true, starting = false;
  int start_end = 0;
  bool lost = false, latched = false, in_preset = false, local = false;
  int lost_at = 0;  ///< number of the loss
  int back = 0;     ///< number of the frame that completed step (1); 0: it has not come
  int setpoint = 0, timeout = 0, heartbeat = -1, held = 0;
  Policy policy = Policy::latch_to_inhibit;
  std::vector<Feed> feeds;
  std::vector<Level> enable{{1, 0}}, reset_wire{{0, 0}}, reg{{0, 0}};

 private:
  [[nodiscard]] bool acting() const { return c.acts_always || !local; }
  [[nodiscard]] int command() const { return local ? c.local : setpoint; }
  /// Ticks since the expiry was due; below 0 if it is not or cannot be.
  [[nodiscard]] int overdue() const {
    if (!powered || starting || lost || timeout == 0 || feeds.empty()) return -1;
    return now - feeds.back().tick - timeout;
  }
  void lose() {
    lost = true;
    lost_at = ++number;
    back = 0;
    act();
    settle();
  }
  void act() {
    if (!acting()) return;
    if (policy == Policy::latch_to_inhibit) latched = true;
    if (policy == Policy::go_to_preset && !latched) in_preset = true;
  }
  /// The last restored_after feeding frames all came after the loss and close together.
  [[nodiscard]] bool restored() const {
    const int n = c.restored_after;
    if (static_cast<int>(feeds.size()) < n) return false;
    for (int i = 0; i < n; ++i) {
      const Feed& f = feeds[feeds.size() - 1 - static_cast<std::size_t>(i)];
      if (f.number <= lost_at) return false;
      if (i == 0) continue;
      const Feed& later = feeds[feeds.size() - static_cast<std::size_t>(i)];
      if (gap_limit(later) != 0 && later.tick - f.tick >= gap_limit(later)) return false;
    }
    return true;
  }
  /// The timeout in force when a frame came.
  [[nodiscard]] int gap_limit(const Feed& f) const {
    int limit = c.timeout;
    for (const auto& [from, ticks] : timeouts)
      if (from < f.number) limit = ticks;
    return limit;
  }
  /// The last change of `levels` ends an edge 0 -> 1 that began after comms were back. For enable the opening
  /// has to be after; for the others it is enough that the level was 0 then.
  [[nodiscard]] bool begun_after_back(const std::vector<Level>& levels, bool opening_too) const {
    if (!latched || back == 0 || !powered || starting) return false;
    if (levels.size() < 2 || levels.back().level != 1) return false;
    const Level& zero = levels[levels.size() - 2];
    const bool ended_after = levels.back().number > back;
    return ended_after && (!opening_too || zero.number > back);
  }
  void change(std::vector<Level>& levels, bool closed, bool allowed, bool opening_too) {
    if (levels.back().level == (closed ? 1 : 0)) return;
    levels.push_back({closed ? 1 : 0, ++number});
    if (allowed && begun_after_back(levels, opening_too)) clear_latch();
    settle();
  }
  void clear_latch() {
    latched = false;
    back = 0;
    if (!c.zero_after_reset) return;
    setpoint = 0;
    in_preset = false;
  }
  void factory() {
    lost = false;
    in_preset = false;
    back = 0;
    lost_at = number;
    feeds.clear();
    heartbeat = -1;
    local = false;
    reg.push_back({0, ++number});
    if (c.keep && number > 1) return;
    setpoint = 0;
    timeout = c.timeout;
    policy = c.policy;
  }
  /// Book-keeping after every event.
  void settle() {
    const bool holding = lost && acting() && policy == Policy::hold_last_command;
    if (holding && !was_holding) held = command();
    was_holding = holding;
    was_acting = acting();
    timeouts.emplace_back(number, timeout);
  }
  bool was_holding = false;
  bool was_acting = true;
  std::vector<std::pair<int, int>> timeouts;
};

}  // namespace emberline::unit

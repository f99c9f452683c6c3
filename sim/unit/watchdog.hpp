#pragma once

#include <optional>

#include "sim/base/sim_time.hpp"
#include "sim/registers/point.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// The comms-loss watchdog as a pure state machine. Time is an argument and never goes back; it does no
/// journal and knows no frames: the unit tells it which frames feed, and asks what follows.
///
/// It runs once it is armed: by the first feeding frame (ArmedFrom::first_request) or by start()
/// (ArmedFrom::power_up). It expires at exactly last feed + timeout; a frame at that very instant is in time
/// if feed() is called before expire(). While it is lost no timer runs. Timeout 0: never.
///
/// What a loss does is decided by the policy in force while comms are lost and the watchdog acts:
///  - hold-last-command: holding() until the next feeding frame.
///  - go-to-preset: at_preset() until setpoint_written(), whether or not comms came back meanwhile.
///  - latch-to-inhibit: latched() until reset(), which is refused before step (1): `restored_after` feeding
///    frames since the loss, each closer to the one before than the timeout (a gap of exactly the timeout
///    begins the count again). The loss itself ends with step (1), not with the first frame.
/// While the unit follows a local setpoint and acts_in is remote, a loss only warns (set_acts(false)); when
/// the unit goes back to the register's setpoint with comms still lost, the policy acts then.
class Watchdog {
 public:
  struct Settings {
    Duration timeout{};  ///< 0: no supervision
    registers::Policy policy = registers::Policy::hold_last_command;
    bool operator==(const Settings&) const = default;
  };
  struct Rules {
    ArmedFrom from = ArmedFrom::first_request;
    int restored_after = 1;  ///< 1 or more
  };
  Watchdog(const Rules& rules, const Settings& settings);

  /// The unit answers from now on: listens anew. A latch that survived stands before step (1).
  void start(SimTime at);
  /// The unit lost its control supply: disarmed, nothing is lost any more. The latch stays if `keep_latch`.
  void stop(bool keep_latch);

  /// What a feeding frame did.
  struct Fed {
    bool armed = false;           ///< it was the one that armed
    bool comms_back = false;      ///< the loss ended
    bool step_one = false;        ///< step (1) of a latch was completed
    std::optional<Duration> gap;  ///< since the feed before; nothing for the frame that armed
  };
  Fed feed(SimTime at);
  /// The instant of the next expiry; nothing while unarmed, lost or unsupervised.
  [[nodiscard]] std::optional<SimTime> due() const;
  /// Comms are lost: to be called at due().
  void expire();

  /// Settings written by a master. A changed timeout counts from the last feed: comms that were lost may be
  /// so no longer, and 0 ends any loss; a changed policy acts at once on a loss that stands. A latch stays
  /// and is not turned into a preset; a preset stays too. True if comms are lost by this at `at`: the new
  /// instant of expiry has passed.
  [[nodiscard]] bool set(const Settings& settings, SimTime at);
  [[nodiscard]] const Settings& settings() const { return settings_; }
  /// Whether losses act or only warn.
  void set_acts(bool acts);
  /// An accepted setpoint write, from any line, or a reset that sets the setpoint: leaves the preset.
  void setpoint_written() { preset_ = false; }
  /// Step (2). Requires latched() and step_one().
  void reset();

  [[nodiscard]] bool armed() const { return armed_; }
  [[nodiscard]] bool lost() const { return lost_; }        ///< the warning bit
  [[nodiscard]] bool latched() const { return latched_; }  ///< the trip bit
  [[nodiscard]] bool step_one() const { return step_one_; }
  [[nodiscard]] int restored() const { return restored_; }  ///< feeding frames counted towards step (1)
  [[nodiscard]] bool holding() const;
  [[nodiscard]] bool at_preset() const { return preset_ && acts_; }
  /// Since the last feed, or since start() if there was none; 0 while stopped.
  [[nodiscard]] Duration age(SimTime now) const;
  /// The longest gap since start(), the running one included; supervised or not, but only once armed.
  [[nodiscard]] Duration longest_gap(SimTime now) const;

 private:
  void act();
  void lose();

  Rules rules_;
  Settings settings_;
  bool listening_ = true;
  bool armed_ = false;
  bool lost_ = false;
  bool latched_ = false;
  bool step_one_ = false;
  bool preset_ = false;
  bool acts_ = true;
  int restored_ = 0;
  SimTime last_feed_{};
  Duration longest_gap_{};
};

}  // namespace emberline::unit

#include <algorithm>
#include <cassert>
#include <cmath>
#include <functional>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/modbus/device_functions.hpp"
#include "sim/unit/state.hpp"
#include "sim/unit/unit_core.hpp"
#include "sim/unit/words.hpp"

namespace emberline::unit {

using registers::Point;
using registers::point_info;
using Fate = registers::PointAccess::Asked::Fate;

namespace {

/// Where the unit's identity has a text (MODBUS Application Protocol V1.1b3, 6.21).
std::uint8_t object_of(registers::TextPoint point) {
  using registers::TextPoint;
  switch (point) {
    case TextPoint::vendor_name:
      return modbus::kVendorName;
    case TextPoint::product_code:
      return modbus::kProductCode;
    case TextPoint::revision:
      return modbus::kMajorMinorRevision;
    case TextPoint::vendor_url:
      return modbus::kVendorUrl;
    case TextPoint::product_name:
      return modbus::kProductName;
    case TextPoint::model_name:
      return modbus::kModelName;
    case TextPoint::application_name:
      return modbus::kUserApplicationName;
  }
  return modbus::kVendorName;
}

}  // namespace

/// The unit's points and register table as one request sees them, and what the request did to them.
class VirtualUnit::Impl::Access final : public modbus::DataModel, public registers::PointAccess {
 public:
  Access(Impl& unit, const modbus::Arrival& arrival) : unit_(unit), arrival_(arrival) {
    asked_.swap(unit_.asked_before_);  // for its memory
    asked_.clear();
  }
  ~Access() override { asked_.swap(unit_.asked_before_); }
  Access(const Access&) = delete;
  Access& operator=(const Access&) = delete;

  Result<std::vector<bool>, modbus::Refusal> read_bits(modbus::Table table,
                                                       modbus::AddressRange range) override {
    return unit_.spec_.table->read_bits(table, range, *this);
  }
  Result<std::vector<std::uint16_t>, modbus::Refusal> read_registers(modbus::Table table,
                                                                     modbus::AddressRange range) override {
    return unit_.spec_.table->read_registers(table, range, *this, unit_.last_words_);
  }
  Result<Done, modbus::Refusal> write_bits(std::uint16_t first, const std::vector<bool>& values) override {
    return unit_.spec_.table->write_bits(first, values, *this);
  }
  Result<Done, modbus::Refusal> write_registers(std::uint16_t first,
                                                const std::vector<std::uint16_t>& values) override {
    return unit_.spec_.table->write_registers(first, values, *this);
  }

  [[nodiscard]] double read(Point point) const override { return unit_.value(point, arrival_.at); }
  [[nodiscard]] std::string text(registers::TextPoint point) const override {
    const auto found = unit_.spec_.identity.objects.find(object_of(point));
    return found == unit_.spec_.identity.objects.end() ? std::string() : found->second;
  }
  [[nodiscard]] Result<Done, modbus::Refusal> may_write(Point point, double value) const override {
    return unit::may_write(point, value);
  }
  void write(Point point, double value) override { unit_.store(point, value, *this); }
  void asked(const Asked& what) override { asked_.push_back(what); }
  void saturated(const registers::Row& row, double value) const override {
    if (!unit_.saturated_.insert(&row).second) return;
    const auto& info = point_info(row.point);
    unit_.note(arrival_.at, std::string(info.name) + " is " + format_quantity(value, info.dimension) +
                                ", which does not fit its register at " +
                                registers::both_ways(row.address, row.table) +
                                "; the register stands at the end of its range");
  }

  const modbus::Arrival& arrival() const { return arrival_; }
  [[nodiscard]] bool wrote() const {
    return std::any_of(asked_.begin(), asked_.end(), [](const Asked& what) { return taken(what); });
  }
  static bool taken(const Asked& what) { return what.fate == Fate::accepted || what.fate == Fate::clamped; }

  std::vector<Asked> asked_;
  bool heartbeat_changed_ = false;
  bool left_preset_ = false;
  std::optional<bool> reset_;  ///< the reset register was written

 private:
  Impl& unit_;
  const modbus::Arrival& arrival_;
};

std::optional<modbus::Bytes> VirtualUnit::Impl::take_up(modbus::ByteView pdu,
                                                        const modbus::Arrival& arrival) {
  run_before(arrival.at);
  held_back_ = {};
  if (!answers(state_)) return std::nullopt;
  const auto carry = [&] { return carry_out(pdu, arrival); };
  return modbus::serve(pdu, arrival,
                       std::cref(carry));  // by reference: it need not be copied into memory of its own
}

std::optional<modbus::Bytes> VirtualUnit::Impl::carry_out(modbus::ByteView pdu,
                                                          const modbus::Arrival& arrival) {
  assert(spec_.table);
  Access access(*this, arrival);
  std::optional<modbus::Bytes> answer;
  if (modbus::is_about_device(pdu[0])) {
    const modbus::DeviceFace face{.identity = spec_.identity,
                                  .unit_id = static_cast<std::uint8_t>(spec_.id),
                                  .exception_status = static_cast<std::uint8_t>(trips() & 0xFFu),
                                  .running = delivers(state_)};
    answer = modbus::answer_about_device(pdu, face, arrival.port);
  } else if (const auto request = modbus::decode_request(pdu)) {
    if (const auto size = read_size(*request)) {
      const auto verdict = intake_.read(*size, arrival.at, arrival.master);
      if (!verdict.sentence.empty()) note(arrival.at, verdict.sentence);
      held_back_ = verdict.held_back;
      // Refused or dropped by the intake: the unit has not taken it up, so it feeds nothing.
      if (verdict.dropped) return std::nullopt;
      if (verdict.refused) return modbus::exception_pdu(pdu[0], *verdict.refused);
    }
    answer = modbus::execute(*request, access);
  } else {
    answer = modbus::exception_pdu(pdu[0], request.error());
  }
  const bool refused = answer && modbus::refusal_of(*answer);
  report_writes(access);
  if (access.reset_) {
    reset_seen({ResetBy::reset_register, *access.reset_}, arrival.at);
  }
  const bool back = feeds(access, refused) && feed(arrival);
  if (access.wrote()) apply_settings(arrival.at);
  if (back && !access.left_preset_) {
    refresh(arrival.at, "comms back");
  } else {
    refresh(arrival.at, access.left_preset_ ? "setpoint written by " : "setting written by ", arrival.master);
  }
  return answer;
}

void VirtualUnit::Impl::report_writes(const Access& access) {
  const modbus::Arrival& arrival = access.arrival();
  for (const auto& what : access.asked_) {
    const bool accepted = Access::taken(what);
    observer_.write_seen({.at = arrival.at,
                          .unit = spec_.name,
                          .point = what.point,
                          .asked = what.asked,
                          .accepted = accepted,
                          .master = arrival.master,
                          .line = arrival.line});
    if (what.fate == Fate::accepted) continue;
    // Above the numbers of the warnings, which share the throttle.
    const int key = 100 + static_cast<int>(what.point);
    if (!throttle_.lets_through(key, arrival.at)) continue;
    const auto& info = point_info(what.point);
    const std::string_view fate = what.fate == Fate::clamped   ? "clamped to its range"
                                  : what.fate == Fate::ignored ? "ignored"
                                                               : "refused";
    note(arrival.at, "write of " + std::string(info.name) + " = " +
                         format_quantity(what.asked, info.dimension) + " by " + std::string(arrival.master) +
                         " " + std::string(fate));
  }
}

void VirtualUnit::Impl::store(Point point, double value, Access& access) {
  const modbus::Arrival& arrival = access.arrival();
  const double before = this->value(point, arrival.at);
  if (spec_.table->keeps(point) && kept_writes_.written(point, arrival.at)) {
    note(arrival.at, std::string(point_info(point).name) + " is non-volatile and was written more than " +
                         std::to_string(KeptWrites::kTooMany) + " times within " +
                         std::to_string(KeptWrites::kWithin / std::chrono::minutes{1}) + " min" +
                         ", last by " + std::string(arrival.master) +
                         "; such memory wears out, write it only when it changes");
  }
  switch (point) {
    case Point::setpoint:
      settings_.setpoint = std::clamp(value, 0.0, 1.0);
      access.left_preset_ = access.left_preset_ || watchdog_.at_preset();
      watchdog_.setpoint_written();
      note_setpoint_after_reset(arrival);
      break;
    case Point::setpoint_source:
      if (settings_.local != (value != 0.0)) {
        note(arrival.at, std::string("setpoint_source ") + (settings_.local ? "local" : "register") + " -> " +
                             (settings_.local ? "register" : "local") + ", written by " +
                             std::string(arrival.master));
      }
      settings_.local = value != 0.0;
      break;
    case Point::comms_timeout:
      settings_.comms_timeout = from_seconds(value);
      break;
    case Point::comms_policy:
      settings_.comms_policy = static_cast<registers::Policy>(static_cast<int>(value));
      break;
    case Point::heartbeat:
      access.heartbeat_changed_ =
          access.heartbeat_changed_ || !settings_.heartbeat_written || value != settings_.heartbeat;
      settings_.heartbeat = value;
      settings_.heartbeat_written = true;
      break;
    case Point::reset:
      access.reset_ = value != 0.0;
      break;
    case Point::learn_load:
      if (value != 0.0 && !settings_.learn_load) learn_load(arrival.master, arrival.at);
      settings_.learn_load = value != 0.0;
      break;
    default:  // may_write lets nothing else through
      set_plant_setting(point, value, arrival);
  }
  // The heartbeat moves nothing but the watchdog: where that moves the output, the state is another one. A
  // reset is stored here, and counts when it is acted upon.
  if (point != Point::heartbeat && this->value(point, arrival.at) != before) ++settings_version_;
}

void VirtualUnit::Impl::set_plant_setting(Point point, double value, const modbus::Arrival& arrival) {
  double* const setting = plant_setting(settings_, point);
  if (setting == nullptr || *setting == value) return;
  const auto& info = point_info(point);
  // Above the numbers of the refused writes, which share the throttle.
  if (throttle_.lets_through(500 + static_cast<int>(point), arrival.at)) {
    note(arrival.at, std::string(info.name) + " " + format_quantity(*setting, info.dimension) + " -> " +
                         format_quantity(value, info.dimension) + ", written by " +
                         std::string(arrival.master));
  }
  *setting = value;
}

void VirtualUnit::Impl::note_setpoint_after_reset(const modbus::Arrival& arrival) {
  // Later than this it is a new decision, not a program that goes on where it was.
  constexpr Duration kCyclic = std::chrono::minutes{1};
  if (!zeroed_at_ || settings_.setpoint == 0.0) return;
  if (arrival.at - *zeroed_at_ <= kCyclic) {
    note(arrival.at, "setpoint 0 % after the reset lasted " + format_duration(arrival.at - *zeroed_at_) +
                         ", then " + std::string(arrival.master) + " wrote " +
                         percent_text(settings_.setpoint) +
                         "; with a program that writes cyclically zero lasts one cycle");
  }
  zeroed_at_.reset();
}

bool VirtualUnit::Impl::feeds(const Access& access, bool refused) const {
  const auto& lines = spec_.comms_loss.lines;
  if (std::find(lines.begin(), lines.end(), access.arrival().line) == lines.end()) return false;
  switch (spec_.comms_loss.feeds) {
    case Feeds::any_request:
      return true;
    case Feeds::good_request:
      return !refused;
    case Feeds::write:
      return access.wrote();
    case Feeds::heartbeat:
      return access.heartbeat_changed_;
  }
  return false;
}

bool VirtualUnit::Impl::feed(const modbus::Arrival& arrival) {
  const bool was_lost = watchdog_.lost();
  const auto fed = watchdog_.feed(arrival.at);
  const Duration timeout = settings_.comms_timeout;
  if (fed.armed) {
    const std::string who = std::string(arrival.master) + " over " + std::string(arrival.line);
    note(arrival.at, timeout > Duration{}
                         ? "watchdog armed by " + who + ", timeout " + format_duration(timeout)
                         : "first feeding request by " + who +
                               ", but the timeout is 0 s: comms are not supervised and a dead master leaves "
                               "the last command in force");
  }
  if (fed.step_one) {
    reset_inputs_.cause_gone();
    note(arrival.at, "comms back: " + std::to_string(spec_.comms_loss.restored_after) + " of " +
                         counted(spec_.comms_loss.restored_after, "feeding request") +
                         " since the loss; the latch now waits for a reset");
  } else if (fed.comms_back) {
    note(arrival.at, "comms back after " + format_duration(*fed.gap) + " without a feeding request");
  } else if (fed.gap && !was_lost && timeout > Duration{} && *fed.gap * 2 >= timeout &&
             *fed.gap >= closest_call_noted_ + timeout / 10) {
    // From half the timeout on, and only in steps worth reading.
    closest_call_noted_ = *fed.gap;
    note(arrival.at, "closest call so far: " + format_duration(*fed.gap) +
                         " without a feeding request, the timeout is " + format_duration(timeout));
  }
  return fed.comms_back;
}

void VirtualUnit::Impl::apply_settings(SimTime at) {
  const auto before = watchdog_.settings();
  const Watchdog::Settings now{settings_.comms_timeout, settings_.comms_policy};
  const bool was_lost = watchdog_.lost();
  if (now.timeout != before.timeout) {
    closest_call_noted_ = Duration{};
    note(at, "comms_timeout " + format_duration(before.timeout) + " -> " + format_duration(now.timeout));
  }
  if (now.policy != before.policy) {
    note(at, "comms_policy " + std::string(registers::to_word(before.policy)) + " -> " +
                 std::string(registers::to_word(now.policy)));
  }
  if (watchdog_.set(now, at)) comms_lost(at);
  if (was_lost && !watchdog_.lost()) note(at, "comms count as present again under the new timeout");
  watchdog_.set_acts(watchdog_acts());
  const std::uint32_t limits_before = path_.limits_acting();
  path_.set_limits(at, limits());
  note_limits(at, limits_before);
}

}  // namespace emberline::unit

#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include "sim/unit/virtual_unit.hpp"

namespace emberline::unit {

using namespace std::chrono_literals;
using registers::Point;
using registers::Policy;
using registers::State;

/// An instant so long after the start.
constexpr SimTime at(Duration since_start) { return SimTime{since_start}; }

/// Keeps the journal's sentences with their times.
struct Notes final : JournalSink {
  struct Note {
    SimTime at;
    std::string sentence;
  };
  void note(SimTime when, std::string_view /*subject*/, std::string sentence) override {
    notes.push_back({when, std::move(sentence)});
  }
  /// How many sentences hold `words`.
  [[nodiscard]] int count(std::string_view words) const {
    return static_cast<int>(std::count_if(notes.begin(), notes.end(), [&](const Note& one) {
      return one.sentence.find(words) != std::string::npos;
    }));
  }
  [[nodiscard]] bool has(std::string_view words) const { return count(words) > 0; }
  std::vector<Note> notes;
};

struct Writes final : UnitObserver {
  struct Write {
    SimTime at;
    Point point;
    double asked;
    bool accepted;
    std::string master;
    std::string line;
  };
  void write_seen(const WriteSeen& write) override {
    seen.push_back({write.at, write.point, write.asked, write.accepted, std::string(write.master),
                    std::string(write.line)});
  }
  std::vector<Write> seen;
};

/// Where the rig's table has its points; all u16 holding registers of their own.
enum Address : std::uint16_t {
  kSetpoint = 0,  ///< 0.1 %, 0 to 100 %
  kSource = 1,
  kTimeout = 2,  ///< 0.1 s
  kPolicy = 3,
  kHeartbeat = 4,
  kReset = 5,
  kState = 6,  ///< read-only from here
  kWarnings = 7,
  kTrips = 8,
  kOutput = 9,  ///< 0.1 %
  kEnergy = 10,
  kCurrentLimit = 11,      ///< 0.1 A, read-write from here
  kVoltageLimit = 12,      ///< 0.1 V
  kPowerLimit = 13,        ///< 10 W
  kPartialThreshold = 14,  ///< 0.1 %
  kPhaseLostDelay = 15,    ///< 10 ms
  kLearn = 16,
  kNowhere = 50,
};

struct TableOptions {
  bool keep =
      false;  ///< setpoint, comms_timeout, comms_policy, current_limit, kPartialThreshold non-volatile
  registers::OutOfRange out_of_range = registers::OutOfRange::exception_03;
};

inline std::shared_ptr<const registers::RegisterTable> make_table(const TableOptions& options = {}) {
  registers::TableParts parts;
  parts.title = "rig";
  const auto add = [&](std::uint16_t address, Point point, double scale, bool writable) {
    registers::Row row;
    row.address = address;
    row.point = point;
    row.layout = {.type = registers::Type::u16, .scale = scale};
    row.access = writable ? registers::Access::read_write : registers::Access::read_only;
    row.kept = options.keep &&
               (point == Point::setpoint || point == Point::comms_timeout || point == Point::comms_policy ||
                point == Point::current_limit || point == Point::partial_load_failure_threshold);
    if (point == Point::setpoint) {
      row.range = {0.0, 1.0};
      row.out_of_range = options.out_of_range;
    }
    parts.rows.push_back(row);
  };
  add(kSetpoint, Point::setpoint, 0.001, true);
  add(kSource, Point::setpoint_source, 1, true);
  add(kTimeout, Point::comms_timeout, 0.1, true);
  add(kPolicy, Point::comms_policy, 1, true);
  add(kHeartbeat, Point::heartbeat, 1, true);
  add(kReset, Point::reset, 1, true);
  add(kState, Point::state, 1, false);
  add(kWarnings, Point::warnings, 1, false);
  add(kTrips, Point::trips, 1, false);
  add(kOutput, Point::output, 0.001, false);
  add(kEnergy, Point::energy, 3.6e6, false);
  add(kCurrentLimit, Point::current_limit, 0.1, true);
  add(kVoltageLimit, Point::voltage_limit, 0.1, true);
  add(kPowerLimit, Point::power_limit, 10, true);
  add(kPartialThreshold, Point::partial_load_failure_threshold, 0.001, true);
  add(kPhaseLostDelay, Point::phase_lost_delay, 0.01, true);
  add(kLearn, Point::learn_load, 1, true);
  auto table = registers::make_register_table(std::move(parts));
  return table.has_value() ? table.value() : nullptr;
}

/// A unit in open loop without ramp, 3 s timeout on the line "field", on a load that takes 20 kW.
inline UnitSpec base_spec() {
  UnitSpec spec;
  spec.name = "heater";
  spec.lines = {"field", "ethernet"};
  static const auto table = make_table();
  spec.table = table;
  spec.comms_loss.lines = {"field"};
  spec.comms_loss.timeout = 3s;
  spec.comms_loss.policy = Policy::latch_to_inhibit;
  return spec;
}

inline constexpr FullConduction kFull{400.0, 50.0, 20'000.0};

/// A unit with somebody who listens, and short words for what masters do to it.
struct Rig {
  explicit Rig(UnitSpec unit_spec) : spec(std::move(unit_spec)), unit(spec, notes, writes) {
    unit.advance(SimTime{}, kFull);
  }
  std::optional<modbus::Bytes> send(const modbus::Bytes& pdu, Duration when, std::string_view line = "field",
                                    std::string_view master = "plc", bool broadcast = false) {
    return unit.take_up(pdu, {at(when), line, master, broadcast});
  }
  static modbus::Bytes write_pdu(std::uint16_t address, std::uint16_t value) {
    return {6, static_cast<std::uint8_t>(address >> 8u), static_cast<std::uint8_t>(address & 255u),
            static_cast<std::uint8_t>(value >> 8u), static_cast<std::uint8_t>(value & 255u)};
  }
  static modbus::Bytes read_pdu(std::uint16_t address, std::uint16_t count = 1) {
    return {3, static_cast<std::uint8_t>(address >> 8u), static_cast<std::uint8_t>(address & 255u),
            static_cast<std::uint8_t>(count >> 8u), static_cast<std::uint8_t>(count & 255u)};
  }
  std::optional<modbus::Bytes> write(std::uint16_t address, int value, Duration when,
                                     std::string_view line = "field") {
    return send(write_pdu(address, static_cast<std::uint16_t>(value)), when, line);
  }
  std::optional<modbus::Bytes> read(Duration when, std::string_view line = "field",
                                    std::uint16_t address = kState) {
    return send(read_pdu(address), when, line);
  }
  void run(Duration when) { unit.run_timers(at(when)); }
  void enable(bool closed, Duration when) { unit.set_terminal(Terminal::enable, closed, at(when)); }
  void reset_terminal(bool closed, Duration when) { unit.set_terminal(Terminal::reset, closed, at(when)); }
  /// Opens and closes the enable terminal at one instant.
  void cycle(Duration when) {
    enable(false, when);
    enable(true, when);
  }
  /// Setpoint 50 % at 1 s and nothing more until the timers of 10 s have run: comms are lost at 4 s.
  void lose_comms() {
    write(kSetpoint, 500, 1s);
    run(10s);
  }

  [[nodiscard]] double value(Point point, Duration when = 0s) const { return unit.value(point, at(when)); }
  [[nodiscard]] State state() const { return unit.state(); }
  [[nodiscard]] double output() const { return unit.drive().output; }
  [[nodiscard]] bool warns(registers::Warning warning = registers::Warning::comms_loss) const {
    return (static_cast<std::uint32_t>(value(Point::warnings)) & registers::bit(warning)) != 0;
  }
  [[nodiscard]] bool tripped() const {
    return (static_cast<std::uint32_t>(value(Point::trips)) & registers::bit(registers::Trip::comms_loss)) !=
           0;
  }

  UnitSpec spec;
  Notes notes;
  Writes writes;
  VirtualUnit unit;
};

}  // namespace emberline::unit

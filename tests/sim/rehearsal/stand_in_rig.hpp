#pragma once

#include <chrono>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "sim/rehearsal/stand_in.hpp"
#include "tests/sim/rehearsal/scripted_link.hpp"

namespace doctest {
template <>
struct StringMaker<std::vector<std::string>> {
  static String convert(const std::vector<std::string>& lines) {
    std::string text;
    for (const auto& line : lines) text += "\n    " + line;
    return text.c_str();
  }
};
}  // namespace doctest

namespace emberline::rehearsal::stand_in_rig {

using namespace std::chrono_literals;
using Answer = ScriptedLink::Answer;
using Kind = ProgramStep::Kind;
using Lines = std::vector<std::string>;

constexpr Answer kSilence{.any = false, .refusal = {}};

inline SimTime at(Duration since_start) { return SimTime{since_start}; }

/// A register of unit `slave` (id = slave + 1) on line "field".
inline Target unit_register(std::size_t slave, const std::string& name, std::uint16_t address) {
  Target target;
  target.slave = slave;
  target.slave_name = name.substr(0, name.find('.'));
  target.name = name;
  target.id = static_cast<int>(slave) + 1;
  target.lines = {"field"};
  target.row.address = address;
  target.row.layout.scale = 0.001;
  target.info.dimension = Dimension::ratio;
  return target;
}

inline Target coil(const std::string& name, std::uint16_t address) {
  Target target = unit_register(0, name, address);
  target.io_block = true;
  target.id = 20;
  target.row.table = modbus::Table::coils;
  target.row.layout = {.type = registers::Type::bit};
  target.info.dimension = Dimension::logical;
  return target;
}

inline const Target kSetpoint = unit_register(0, "heater.setpoint", 48);
inline const Target kCurrent = unit_register(0, "heater.load_current", 64);
inline const Target kOther = unit_register(1, "other.load_current", 64);

inline ProgramStep read_every(Duration period, std::vector<Target> targets) {
  ProgramStep step;
  step.every = period;
  step.reads = std::move(targets);
  return step;
}

inline ProgramStep write_every(Duration period, std::vector<Write> writes) {
  ProgramStep step;
  step.kind = Kind::write;
  step.every = period;
  step.writes = std::move(writes);
  return step;
}

inline ProgramStep write_at(Duration when, std::vector<Write> writes) {
  ProgramStep step = write_every(0s, std::move(writes));
  step.every.reset();
  step.at = at(when);
  return step;
}

inline MasterSpec plc(std::vector<ProgramStep> program) {
  MasterSpec master;
  master.name = "plc";
  master.lines = {"field"};
  master.program = std::move(program);
  return master;
}

inline ScriptedLink played(const MasterSpec& master, Duration end, const ScriptedLink::Script& script) {
  ScriptedLink link(at(end), master.timeout, script);
  play(master, link);
  return link;
}

inline Answer always(const std::string&, SimTime) { return {}; }
inline Answer never(const std::string&, SimTime) { return kSilence; }

/// Silence from `from` up to, not including, `to`.
inline ScriptedLink::Script silent_between(Duration from, Duration to) {
  return
      [=](const std::string&, SimTime now) { return now >= at(from) && now < at(to) ? kSilence : Answer{}; };
}

inline Condition reads_above(const Target& target, double value) {
  Condition condition;
  condition.name = target.name;
  condition.info = target.info;
  condition.comparator = Condition::Comparator::above;
  condition.a = value;
  return condition;
}

inline Trigger when_above(const Target& target, double value) { return {{reads_above(target, value)}, {}}; }

inline Trigger when_slave(SlaveCondition::Kind kind, const Target& target) {
  return {{}, {{kind, target.io_block, target.slave, target.slave_name}}};
}

inline Transition go_after(std::size_t to, Duration after) { return {to, after, {}, {}}; }
inline Transition go_when(std::size_t to, Trigger when, Duration holds_for = {}) {
  return {to, std::nullopt, std::move(when), holds_for};
}

/// What was asked, without the reads.
inline Lines writes_of(const ScriptedLink& link) {
  Lines writes;
  for (const auto& line : link.did)
    if (line.find(" = ") != std::string::npos || line.find(" =") != std::string::npos) writes.push_back(line);
  return writes;
}

/// Every register holds what `value` says of the time, in thousandths.
inline ScriptedLink::Script carrying(std::function<double(SimTime)> value) {
  return [value = std::move(value)](const std::string&, SimTime now) {
    return Answer{.word = static_cast<std::uint16_t>(value(now) * 1000 + 0.5)};
  };
}

}  // namespace emberline::rehearsal::stand_in_rig

#include "sim/rehearsal/stand_in_readings.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "sim/base/duration_text.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::rehearsal {

modbus::AddressRange range_of(const Target& target) {
  const int count = modbus::carries_bits(target.row.table) ? 1 : registers::register_count(target.row.layout);
  return {target.row.address, static_cast<std::uint16_t>(count)};
}

std::optional<double> value_in(const Target& target, modbus::AddressRange range,
                               const StandInRequests::Answer& answer) {
  if (target.row.address < range.first) return std::nullopt;
  const auto offset = static_cast<std::size_t>(target.row.address - range.first);
  if (modbus::carries_bits(target.row.table)) {
    if (offset >= answer.bits.size()) return std::nullopt;
    return answer.bits[offset] ? 1.0 : 0.0;
  }
  if (target.row.layout.type == registers::Type::text) return std::nullopt;
  const auto count = static_cast<std::size_t>(registers::register_count(target.row.layout));
  if (offset + count > answer.words.size()) return std::nullopt;
  return registers::decode_row(target.row, std::span(answer.words).subspan(offset, count));
}

// --- values ------------------------------------------------------------------------------------------------

StandInReadings::StandInReadings(const MasterSpec& master) {
  watch(master.program);
  for (const MasterState& state : master.states) {
    watch(state.program);
    for (const Transition& way : state.go) watch(way.when);
  }
  for (const Alarm& alarm : master.alarms) watch(alarm.when);
  values_.resize(names_.size(), std::numeric_limits<double>::quiet_NaN());
}

void StandInReadings::watch(const std::vector<ProgramStep>& program) {
  for (const ProgramStep& step : program) watch(step.when);
}

void StandInReadings::watch(const Trigger& trigger) {
  for (const Condition& condition : trigger.readings) {
    if (!place_of(condition.name)) names_.push_back(condition.name);
  }
}

std::optional<std::size_t> StandInReadings::place_of(std::string_view name) const {
  const auto found = std::find(names_.begin(), names_.end(), name);
  if (found == names_.end()) return std::nullopt;
  return static_cast<std::size_t>(found - names_.begin());
}

std::vector<WatchedBlock> watched_blocks(const ProgramStep& step, const StandInReadings& readings) {
  if (step.reads.empty()) return {};
  std::vector<WatchedBlock> blocks;
  for (const BlockRead& block :
       step.block ? std::vector{BlockRead{0, *step.block}} : plan_blocks(step.reads)) {
    WatchedBlock watched{block, {}};
    const Target& lead = step.reads[block.lead];
    for (const Target& target : step.reads) {
      const auto place = readings.place_of(target.name);
      const bool inside = target.io_block == lead.io_block && target.slave == lead.slave &&
                          target.row.table == lead.row.table && target.row.address >= block.range.first &&
                          target.row.address < block.range.first + block.range.count;
      if (place && inside) watched.parts.push_back({&target, *place});
    }
    blocks.push_back(std::move(watched));
  }
  return blocks;
}

// --- conditions on them ------------------------------------------------------------------------------------

WatchedTrigger::WatchedTrigger(const Trigger& trigger, const StandInReadings& readings) : trigger_(&trigger) {
  for (const Condition& condition : trigger.readings) {
    places_.push_back(*readings.place_of(condition.name));
  }
}

bool WatchedTrigger::holds(const StandInReadings& readings, const StandInRequests& requests,
                           SimTime since) const {
  for (std::size_t i = 0; i < places_.size(); ++i) {
    const double value = readings.at(places_[i]);
    if (!std::isfinite(value) || !rehearsal::holds(trigger_->readings[i], value)) return false;
  }
  return std::all_of(trigger_->slaves.begin(), trigger_->slaves.end(),
                     [&](const SlaveCondition& condition) { return requests.holds(condition, since); });
}

std::string describe(const Trigger& trigger, Duration holds_for) {
  std::string text;
  const auto add = [&text](const std::string& part) { text += (text.empty() ? "" : " and ") + part; };
  for (const Condition& condition : trigger.readings) add(describe(condition));
  for (const SlaveCondition& condition : trigger.slaves) {
    using Kind = SlaveCondition::Kind;
    add(condition.slave_name + (condition.kind == Kind::lost   ? " is lost"
                                : condition.kind == Kind::back ? " is back"
                                                               : " refuses a request"));
  }
  if (holds_for > Duration::zero()) text += " for " + format_duration(holds_for);
  return text;
}

}  // namespace emberline::rehearsal

#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/registers/point.hpp"

namespace emberline::bench {

/// What the incoming meter shows besides voltages and currents.
enum class SupplyTotal : std::uint8_t {
  neutral_current,
  power,
  apparent_power,
  power_factor,
  demand,
  peak_demand
};

/// Anything of the bench that has a value and a dotted name.
struct SignalId {
  enum class Kind : std::uint8_t {
    unit_point,        ///< UNIT.POINT; sub = registers::Point
    terminal,          ///< UNIT.terminal.enable|reset; sub = unit::Terminal; 1 = closed
    relay,             ///< UNIT.relay.NAME; sub = number of the relay; 1 = contact closed
    supply_voltage,    ///< supply.voltage_l1.. (line-neutral); index = phase; sub unused
    supply_frequency,  ///< supply.frequency
    supply_current,    ///< supply.current_l1..; index = phase
    supply_total,      ///< supply.power and the like; sub = SupplyTotal
    contactor,         ///< CONTACTOR.closed
    zone_temperature,  ///< ZONE.temperature, the true one
    zone_measured,     ///< ZONE.measured, through the sensor
    zone_cut_out,      ///< ZONE.cut_out; 1 = it has acted
    io_coil,           ///< IOBLOCK.coil.N; sub = address
    io_discrete,       ///< IOBLOCK.discrete.N
    io_input,          ///< IOBLOCK.input.N; value in the wired signal's unit, as the register carries it
    line_state,        ///< LINE.state: normal 0, cut 1, impaired 2
  };
  Kind kind = Kind::unit_point;
  std::uint16_t index = 0;  ///< of the unit, contactor, zone, io-block or line in the spec
  std::uint16_t sub = 0;
  bool operator==(const SignalId&) const = default;
};

/// How to read and write a signal's values in files and messages.
struct SignalInfo {
  Dimension dimension = Dimension::number;
  std::span<const registers::Word> values;  ///< names of numbers ("inhibited"), or none
  std::span<const registers::Word> flags;   ///< names of bits ("comms-loss"), or none
};
/// Whether values of the signal can be compared by size: they are no words, no bits and no contacts.
[[nodiscard]] inline bool is_quantity(const SignalInfo& info) {
  return info.values.empty() && info.flags.empty() && info.dimension != Dimension::logical;
}

/// The signal with this dotted name in an installation, if there is one.
[[nodiscard]] std::optional<SignalId> find_signal(const BenchSpec& spec, std::string_view name);
[[nodiscard]] SignalInfo signal_info(const BenchSpec& spec, SignalId id);
[[nodiscard]] std::string signal_name(const BenchSpec& spec, SignalId id);
/// Every signal of the installation: of its units, the supply, contactors, zones, io-blocks and lines, in
/// their order.
[[nodiscard]] std::vector<SignalId> all_signals(const BenchSpec& spec);
/// Their names in the same order, for "did you mean".
[[nodiscard]] std::vector<std::string> all_signal_names(const BenchSpec& spec);
/// A value in the words of its signal: "inhibited", "11.9 kW", "closed", "comms-loss, current-limit" or
/// "none".
[[nodiscard]] std::string describe_value(const SignalInfo& info, double value);

}  // namespace emberline::bench

#include "sim/bench/signal.hpp"

#include <array>
#include <charconv>

namespace emberline::bench {
namespace {

using Kind = SignalId::Kind;

constexpr std::array<std::string_view, unit::kTerminalCount> kTerminalNames{"enable", "reset"};
constexpr std::array<std::string_view, 3> kSupplyVoltageNames{"voltage_l1", "voltage_l2", "voltage_l3"};
constexpr std::array<std::string_view, 3> kSupplyCurrentNames{"current_l1", "current_l2", "current_l3"};
struct TotalName {
  std::string_view name;
  Dimension dimension;
};
constexpr std::array<TotalName, 6> kTotals{{{"neutral_current", Dimension::current},
                                            {"power", Dimension::power},
                                            {"apparent_power", Dimension::apparent_power},
                                            {"power_factor", Dimension::number},
                                            {"demand", Dimension::power},
                                            {"peak_demand", Dimension::power}}};
constexpr registers::Word kLineStates[] = {{"normal", 0}, {"cut", 1}, {"impaired", 2}};

SignalId make(Kind kind, std::size_t index, std::size_t sub = 0) {
  return {kind, static_cast<std::uint16_t>(index), static_cast<std::uint16_t>(sub)};
}

int phases_of(const BenchSpec& spec) { return spec.supply.system == plant::System::three_phase ? 3 : 1; }

std::optional<SignalId> find_unit_signal(const BenchSpec& spec, std::size_t index, std::string_view rest) {
  if (const auto point = registers::find_point(rest))
    return make(Kind::unit_point, index, static_cast<std::size_t>(*point));
  if (rest.starts_with("terminal.")) {
    for (std::size_t i = 0; i < kTerminalNames.size(); ++i)
      if (rest.substr(9) == kTerminalNames[i]) return make(Kind::terminal, index, i);
  }
  if (rest.starts_with("relay.")) {
    const auto& relays = spec.units[index].unit.relays;
    for (std::size_t i = 0; i < relays.size(); ++i)
      if (rest.substr(6) == relays[i].name) return make(Kind::relay, index, i);
  }
  return std::nullopt;
}

std::optional<std::uint16_t> address_in(std::string_view text) {
  std::uint16_t address = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), address);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return address;
}

std::optional<SignalId> find_io_signal(const BenchSpec& spec, std::size_t index, std::string_view rest) {
  const auto& block = spec.io_blocks[index];
  const auto dot = rest.find('.');
  if (dot == std::string_view::npos) return std::nullopt;
  const auto address = address_in(rest.substr(dot + 1));
  if (!address) return std::nullopt;
  const auto table = rest.substr(0, dot);
  if (table == "coil" && block.coils.contains(*address)) return make(Kind::io_coil, index, *address);
  if (table == "discrete" && block.discrete.contains(*address))
    return make(Kind::io_discrete, index, *address);
  if (table == "input" && block.input.contains(*address)) return make(Kind::io_input, index, *address);
  return std::nullopt;
}

std::optional<SignalId> find_supply_signal(const BenchSpec& spec, std::string_view rest) {
  if (rest == "frequency") return make(Kind::supply_frequency, 0);
  for (std::size_t phase = 0; phase < static_cast<std::size_t>(phases_of(spec)); ++phase) {
    if (rest == kSupplyVoltageNames[phase]) return make(Kind::supply_voltage, phase);
    if (rest == kSupplyCurrentNames[phase]) return make(Kind::supply_current, phase);
  }
  for (std::size_t total = 0; total < kTotals.size(); ++total)
    if (rest == kTotals[total].name) return make(Kind::supply_total, 0, total);
  return std::nullopt;
}

/// What an io-block's own value stands for: its wiring.
SignalInfo wired_info(const BenchSpec& spec, const std::string& signal) {
  const auto id = find_signal(spec, signal);
  return id ? signal_info(spec, *id) : SignalInfo{};
}

}  // namespace

std::optional<SignalId> find_signal(const BenchSpec& spec, std::string_view name) {
  const auto dot = name.find('.');
  if (dot == std::string_view::npos) return std::nullopt;
  const auto head = name.substr(0, dot);
  const auto rest = name.substr(dot + 1);
  if (head == "supply") return find_supply_signal(spec, rest);
  if (const auto index = spec.find_unit(head)) return find_unit_signal(spec, *index, rest);
  if (const auto index = spec.find_io_block(head)) return find_io_signal(spec, *index, rest);
  if (const auto index = spec.find_contactor(head)) {
    return rest == "closed" ? std::optional(make(Kind::contactor, *index)) : std::nullopt;
  }
  if (const auto index = spec.find_zone(head)) {
    if (rest == "temperature") return make(Kind::zone_temperature, *index);
    if (rest == "measured") return make(Kind::zone_measured, *index);
    if (rest == "cut_out" && spec.zones[*index].cut_out) return make(Kind::zone_cut_out, *index);
  }
  if (const auto index = spec.find_line(head); index && rest == "state")
    return make(Kind::line_state, *index);
  return std::nullopt;
}

SignalInfo signal_info(const BenchSpec& spec, SignalId id) {
  switch (id.kind) {
    case Kind::unit_point: {
      const auto& point = registers::point_info(static_cast<registers::Point>(id.sub));
      return {point.dimension, point.values, point.flags};
    }
    case Kind::supply_voltage:
      return {Dimension::voltage, {}, {}};
    case Kind::supply_frequency:
      return {Dimension::frequency, {}, {}};
    case Kind::supply_current:
      return {Dimension::current, {}, {}};
    case Kind::supply_total:
      return {kTotals.at(id.sub).dimension, {}, {}};
    case Kind::zone_temperature:
    case Kind::zone_measured:
      return {Dimension::temperature, {}, {}};
    case Kind::io_input:
      return wired_info(spec, spec.io_blocks[id.index].input.at(id.sub).signal);
    case Kind::line_state:
      return {Dimension::number, kLineStates, {}};
    case Kind::terminal:
    case Kind::relay:
    case Kind::contactor:
    case Kind::zone_cut_out:
    case Kind::io_coil:
    case Kind::io_discrete:
      return {Dimension::logical, {}, {}};
  }
  return {};
}

std::string signal_name(const BenchSpec& spec, SignalId id) {
  const auto number = std::to_string(id.sub);
  switch (id.kind) {
    case Kind::unit_point:
      return spec.units[id.index].unit.name + "." +
             std::string(registers::point_info(static_cast<registers::Point>(id.sub)).name);
    case Kind::terminal:
      return spec.units[id.index].unit.name + ".terminal." + std::string(kTerminalNames[id.sub]);
    case Kind::relay:
      return spec.units[id.index].unit.name + ".relay." + spec.units[id.index].unit.relays[id.sub].name;
    case Kind::supply_voltage:
      return "supply." + std::string(kSupplyVoltageNames[id.index]);
    case Kind::supply_frequency:
      return "supply.frequency";
    case Kind::supply_current:
      return "supply." + std::string(kSupplyCurrentNames[id.index]);
    case Kind::supply_total:
      return "supply." + std::string(kTotals.at(id.sub).name);
    case Kind::contactor:
      return spec.contactors[id.index].name + ".closed";
    case Kind::zone_temperature:
      return spec.zones[id.index].name + ".temperature";
    case Kind::zone_measured:
      return spec.zones[id.index].name + ".measured";
    case Kind::zone_cut_out:
      return spec.zones[id.index].name + ".cut_out";
    case Kind::io_coil:
      return spec.io_blocks[id.index].name + ".coil." + number;
    case Kind::io_discrete:
      return spec.io_blocks[id.index].name + ".discrete." + number;
    case Kind::io_input:
      return spec.io_blocks[id.index].name + ".input." + number;
    case Kind::line_state:
      return spec.lines[id.index].name + ".state";
  }
  return {};
}

std::vector<SignalId> all_signals(const BenchSpec& spec) {
  std::vector<SignalId> ids;
  for (std::size_t u = 0; u < spec.units.size(); ++u) {
    for (std::size_t p = 0; p < registers::kPointCount; ++p) ids.push_back(make(Kind::unit_point, u, p));
    for (std::size_t t = 0; t < kTerminalNames.size(); ++t) ids.push_back(make(Kind::terminal, u, t));
    for (std::size_t r = 0; r < spec.units[u].unit.relays.size(); ++r) ids.push_back(make(Kind::relay, u, r));
  }
  for (std::size_t p = 0; p < static_cast<std::size_t>(phases_of(spec)); ++p) {
    ids.push_back(make(Kind::supply_voltage, p));
    ids.push_back(make(Kind::supply_current, p));
  }
  for (std::size_t t = 0; t < kTotals.size(); ++t) ids.push_back(make(Kind::supply_total, 0, t));
  ids.push_back(make(Kind::supply_frequency, 0));
  for (std::size_t c = 0; c < spec.contactors.size(); ++c) ids.push_back(make(Kind::contactor, c));
  for (std::size_t z = 0; z < spec.zones.size(); ++z) {
    ids.push_back(make(Kind::zone_temperature, z));
    ids.push_back(make(Kind::zone_measured, z));
    if (spec.zones[z].cut_out) ids.push_back(make(Kind::zone_cut_out, z));
  }
  for (std::size_t b = 0; b < spec.io_blocks.size(); ++b) {
    for (const auto& [address, wire] : spec.io_blocks[b].coils)
      ids.push_back(make(Kind::io_coil, b, address));
    for (const auto& [address, wire] : spec.io_blocks[b].discrete)
      ids.push_back(make(Kind::io_discrete, b, address));
    for (const auto& [address, wire] : spec.io_blocks[b].input)
      ids.push_back(make(Kind::io_input, b, address));
  }
  for (std::size_t l = 0; l < spec.lines.size(); ++l) ids.push_back(make(Kind::line_state, l));
  return ids;
}

std::vector<std::string> all_signal_names(const BenchSpec& spec) {
  const auto ids = all_signals(spec);
  std::vector<std::string> names;
  names.reserve(ids.size());
  for (const auto id : ids) names.push_back(signal_name(spec, id));
  return names;
}

std::string describe_value(const SignalInfo& info, double value) {
  for (const auto& [word, number] : info.values)
    if (value == number) return std::string(word);
  if (!info.flags.empty()) {
    std::string text;
    const auto bits = static_cast<std::uint32_t>(value);
    for (const auto& [word, number] : info.flags)
      if ((bits >> static_cast<unsigned>(number) & 1u) != 0)
        text += (text.empty() ? "" : ", ") + std::string(word);
    return text.empty() ? "none" : text;
  }
  return format_quantity(value, info.dimension);
}

}  // namespace emberline::bench

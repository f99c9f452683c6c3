#include "sim/faults/action_target.hpp"

#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/listed.hpp"

namespace emberline::faults {
namespace {

constexpr std::string_view kParts[] = {"l1", "l2", "l3"};
constexpr std::string_view kSupply = "supply";
constexpr std::string_view kPlant = "plant";

bool suits(TargetKind target, bench::LineKind line) {
  if (target == TargetKind::rtu_line) return bench::carries_rtu(line);
  if (target == TargetKind::tcp_line) return bench::over_tcp(line);
  return true;
}

std::size_t phases_of(const bench::BenchSpec& spec) {
  return spec.supply.system == plant::System::three_phase ? 3 : 1;
}

/// Legs that a unit has; those with thyristors when these are meant.
std::size_t legs_of(const bench::UnitEntry& entry, TargetKind kind) {
  if (kind == TargetKind::thyristor && entry.load.legs() == 3)
    return static_cast<std::size_t>(entry.load.controlled_legs);
  return entry.load.legs();
}

/// "l1" to "l3" as 0 to 2, as far as there are so many.
std::optional<std::size_t> part_of(std::string_view name, std::size_t count) {
  for (std::size_t part = 0; part < count; ++part)
    if (kParts[part] == name) return part;
  return std::nullopt;
}

/// The text before the first dot and the one behind it.
std::pair<std::string_view, std::optional<std::string_view>> split(std::string_view name) {
  const auto dot = name.find('.');
  if (dot == std::string_view::npos) return {name, std::nullopt};
  return {name.substr(0, dot), name.substr(dot + 1)};
}

std::optional<Target> find_phase(const bench::BenchSpec& spec, std::string_view name) {
  const auto [head, part] = split(name);
  if (head != kSupply) return std::nullopt;
  Target target;
  target.kind = TargetKind::supply;
  if (!part) return target;
  target.part = part_of(*part, phases_of(spec));
  return target.part ? std::optional(target) : std::nullopt;
}

/// UNIT, UNIT.l1 and, of thyristors, UNIT.l1.forward.
std::optional<Target> find_leg(const bench::BenchSpec& spec, TargetKind kind, std::string_view name) {
  const auto [head, rest] = split(name);
  const auto unit = spec.find_unit(head);
  if (!unit) return std::nullopt;
  Target target;
  target.kind = kind;
  target.index = *unit;
  if (!rest) return target;
  const auto [part, side] = split(*rest);
  target.part = part_of(part, legs_of(spec.units[*unit], kind));
  if (!target.part) return std::nullopt;
  if (!side) return target;
  if (kind != TargetKind::thyristor || (*side != "forward" && *side != "backward")) return std::nullopt;
  target.side = *side == "forward" ? Side::forward : Side::backward;
  return target;
}

std::optional<Target> find_zone(const bench::BenchSpec& spec, std::string_view name) {
  const auto zone = spec.find_zone(name);
  if (!zone) return std::nullopt;
  Target target;
  target.kind = TargetKind::zone;
  target.index = *zone;
  return target;
}

std::optional<Target> find_mendable(const bench::BenchSpec& spec, std::string_view name) {
  for (const auto kind : {TargetKind::supply, TargetKind::leg, TargetKind::thyristor, TargetKind::zone})
    if (const auto target = find_target(spec, kind, name)) return target;
  return std::nullopt;
}

struct Candidates {
  std::string what;  ///< "a line of the bench"
  std::vector<std::string> names;
};

void add_phases(const bench::BenchSpec& spec, Candidates& found) {
  found.names.emplace_back(kSupply);
  for (std::size_t phase = 0; phase < phases_of(spec); ++phase)
    found.names.push_back(std::string(kSupply) + "." + std::string(kParts[phase]));
}

void add_legs(const bench::BenchSpec& spec, TargetKind kind, Candidates& found) {
  for (const auto& entry : spec.units) {
    found.names.push_back(entry.unit.name);
    for (std::size_t leg = 0; leg < legs_of(entry, kind); ++leg) {
      const auto pair = entry.unit.name + "." + std::string(kParts[leg]);
      found.names.push_back(pair);
      if (kind != TargetKind::thyristor) continue;
      found.names.push_back(pair + ".forward");
      found.names.push_back(pair + ".backward");
    }
  }
}

void add_wires(const bench::BenchSpec& spec, Candidates& found) {
  for (const auto& entry : spec.units) {
    found.names.push_back(entry.unit.name + ".terminal.enable");
    found.names.push_back(entry.unit.name + ".terminal.reset");
  }
  for (const auto& contactor : spec.contactors) found.names.push_back(contactor.name);
}

void add_zones(const bench::BenchSpec& spec, Candidates& found) {
  for (const auto& zone : spec.zones) found.names.push_back(zone.name);
}

Candidates candidates(const bench::BenchSpec& spec, TargetKind kind) {
  Candidates found;
  switch (kind) {
    case TargetKind::line:
    case TargetKind::rtu_line:
    case TargetKind::tcp_line:
      found.what = kind == TargetKind::line       ? "a line of the bench"
                   : kind == TargetKind::rtu_line ? "a line that carries RTU frames"
                                                  : "a line that is reached over TCP";
      for (const auto& line : spec.lines)
        if (suits(kind, line.kind)) found.names.push_back(line.name);
      break;
    case TargetKind::unit:
      found.what = "a unit of the bench";
      for (const auto& entry : spec.units) found.names.push_back(entry.unit.name);
      break;
    case TargetKind::wire:
      found.what = "a terminal (UNIT.terminal.enable or UNIT.terminal.reset) or a contactor";
      add_wires(spec, found);
      break;
    case TargetKind::supply:
      found.what = "the supply (all phases) or one phase of it";
      add_phases(spec, found);
      break;
    case TargetKind::leg:
      found.what = "a unit (all its legs) or one leg (UNIT.l1)";
      add_legs(spec, kind, found);
      break;
    case TargetKind::thyristor:
      found.what = "a unit, a pair of thyristors (UNIT.l1) or one of a pair (UNIT.l1.forward)";
      add_legs(spec, kind, found);
      break;
    case TargetKind::zone:
      found.what = "a zone of the bench";
      add_zones(spec, found);
      break;
    case TargetKind::plant:
      found.what = "the word plant";
      found.names.emplace_back(kPlant);
      break;
    case TargetKind::mendable:
      found.what = "the supply, a phase, a unit, a leg, a thyristor or a zone";
      add_phases(spec, found);
      add_legs(spec, TargetKind::leg, found);
      add_zones(spec, found);
      break;
  }
  return found;
}

}  // namespace

std::optional<Target> find_target(const bench::BenchSpec& spec, TargetKind kind, std::string_view name) {
  Target target;
  target.kind = kind;
  switch (kind) {
    case TargetKind::wire:
      if (const auto wire = bench::find_wire(spec, name)) {
        target.wire = *wire;
        return target;
      }
      return std::nullopt;
    case TargetKind::supply:
      return find_phase(spec, name);
    case TargetKind::leg:
    case TargetKind::thyristor:
      return find_leg(spec, kind, name);
    case TargetKind::zone:
      return find_zone(spec, name);
    case TargetKind::mendable:
      return find_mendable(spec, name);
    case TargetKind::plant:
      return name == kPlant ? std::optional(target) : std::nullopt;
    case TargetKind::line:
    case TargetKind::rtu_line:
    case TargetKind::tcp_line:
    case TargetKind::unit:
      break;
  }
  const auto index = kind == TargetKind::unit ? spec.find_unit(name) : spec.find_line(name);
  if (!index || (kind != TargetKind::unit && !suits(kind, spec.lines[*index].kind))) return std::nullopt;
  target.index = *index;
  return target;
}

std::string no_such_target(const bench::BenchSpec& spec, TargetKind kind, std::string_view name) {
  const std::string found = "'" + std::string(name) + "'";
  if (spec.find_line(name) && kind == TargetKind::rtu_line)
    return "is for lines that carry RTU frames; " + found +
           " is Modbus TCP, where no byte comes damaged, uncalled-for or from a third party";
  if (spec.find_line(name) && kind == TargetKind::tcp_line)
    return "is for lines that are reached over TCP; " + found + " is a serial line, which has no connections";
  if (kind == TargetKind::thyristor && find_leg(spec, TargetKind::leg, name))
    return "is for lines with thyristors; " + found + " is direct, as the unit has two controlled legs";
  if (kind == TargetKind::mendable && spec.find_line(name))
    return "is not for lines: use 'restore " + std::string(name) + "'";
  const auto known = candidates(spec, kind);
  const auto near = nearest(name, known.names);
  if (!near.empty())
    return "needs " + known.what + ", found " + found + "; did you mean '" + std::string(near) + "'?";
  return "needs " + known.what + ", found " + found +
         (known.names.empty() ? "; the bench has none" : ": expected one of " + listed(known.names));
}

TargetKind resolved_kind(TargetKind kind, const Target& target) {
  if (kind != TargetKind::mendable) return kind;
  if (target.kind == TargetKind::unit) return TargetKind::leg;
  if (target.kind == TargetKind::thyristor && target.side == Side::both) return TargetKind::leg;
  return target.kind;
}

}  // namespace emberline::faults

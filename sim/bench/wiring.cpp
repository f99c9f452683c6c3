#include "sim/bench/wiring.hpp"

namespace emberline::bench {
namespace {

constexpr std::size_t kTerminals = static_cast<std::size_t>(unit::kTerminalCount);

}  // namespace

std::optional<Wire> find_wire(const BenchSpec& spec, std::string_view name) {
  Wire wire;
  const auto dot = name.find('.');
  const auto head = name.substr(0, dot);
  const auto rest = dot == std::string_view::npos ? std::string_view{} : name.substr(dot + 1);
  if (const auto contactor = spec.find_contactor(head)) {
    if (!rest.empty() && rest != "closed") return std::nullopt;
    wire.kind = Wire::Kind::contactor;
    wire.index = *contactor;
    return wire;
  }
  const auto unit = spec.find_unit(head);
  if (!unit) return std::nullopt;
  wire.index = *unit;
  if (rest == "terminal.enable") return wire;
  if (rest != "terminal.reset") return std::nullopt;
  wire.terminal = unit::Terminal::reset;
  return wire;
}

std::string wire_name(const BenchSpec& spec, const Wire& wire) {
  if (wire.kind == Wire::Kind::contactor) return spec.contactors[wire.index].name;
  return spec.units[wire.index].unit.name +
         (wire.terminal == unit::Terminal::enable ? ".terminal.enable" : ".terminal.reset");
}

Wiring::Wiring(const BenchSpec& spec)
    : units_(spec.units.size()), wires_(spec.units.size() * kTerminals + spec.contactors.size()) {
  for (std::size_t u = 0; u < units_; ++u) {
    wires_[number_of({Wire::Kind::terminal, u, unit::Terminal::reset})].closed_without_coil = false;
  }
}

std::size_t Wiring::number_of(const Wire& wire) const {
  if (wire.kind == Wire::Kind::contactor) return units_ * kTerminals + wire.index;
  return wire.index * kTerminals + static_cast<std::size_t>(wire.terminal);
}

Wire Wiring::wire(std::size_t number) const {
  if (number >= units_ * kTerminals) return {Wire::Kind::contactor, number - units_ * kTerminals, {}};
  return {Wire::Kind::terminal, number / kTerminals, static_cast<unit::Terminal>(number % kTerminals)};
}

bool Wiring::closed(std::size_t number) const {
  const auto& state = wires_[number];
  if (state.held) return *state.held;
  return state.coils > 0 ? state.coils_on > 0 : state.closed_without_coil;
}

void Wiring::look_for_edge(std::size_t number, SimTime at) {
  auto& state = wires_[number];
  const bool now = closed(number);
  if (now && state.seen == false) state.closed_at = at;
  state.seen = now;
}

void Wiring::hold(std::size_t number, std::optional<bool> closed) {
  wires_[number].held = closed;
  if (wires_[number].release_at) --cycling_;
  wires_[number].release_at.reset();
}

void Wiring::cycle(std::size_t number, SimTime release_at) {
  wires_[number].held = false;
  if (!wires_[number].release_at) ++cycling_;
  wires_[number].release_at = release_at;
}

std::optional<SimTime> Wiring::next_release() const {
  std::optional<SimTime> first;
  if (cycling_ == 0) return first;
  for (const auto& state : wires_)
    if (state.release_at && (!first || *state.release_at < *first)) first = state.release_at;
  return first;
}

std::optional<std::size_t> Wiring::release_due(SimTime now) {
  for (std::size_t number = 0; cycling_ > 0 && number < wires_.size(); ++number) {
    if (wires_[number].release_at && *wires_[number].release_at <= now) {
      hold(number, std::nullopt);
      return number;
    }
  }
  return std::nullopt;
}

}  // namespace emberline::bench

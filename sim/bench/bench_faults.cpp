// What breaks in the plant, and what acts by itself there: fuses and cut-outs.
#include <utility>

#include "sim/base/quantity.hpp"
#include "sim/bench/bench_impl.hpp"

namespace emberline::bench {
namespace {

/// A cut-out takes its reset only when its probe has cooled down by so much, as their capillaries do (common
/// practice, no source).
constexpr double kCutOutDifferential_K = 5.0;

std::string leg_name(const std::string& unit, std::size_t leg) {
  return unit + ".l" + std::to_string(leg + 1);
}

}  // namespace

/// Conditions of the plant changed at `at`, after pass(): everybody sees it from now on.
void Bench::Impl::plant_changed(SimTime at) {
  power_.settle();
  for (std::size_t u = 0; u < units_.size(); ++u) {
    show_plant_to(u, at);
    power_.change_drive(u, units_[u]->drive());
  }
  power_.settle();
  disturbed(at);
}

void Bench::Impl::change_supply(const plant::SupplyState& state, SimTime at, std::string_view subject,
                                std::string sentence) {
  power_.pass(at);
  journal_.note(at, subject, std::move(sentence));
  power_.set_supply_state(state);
  plant_changed(at);
}

void Bench::Impl::change_leg(std::size_t unit, std::size_t leg, const plant::LegState& state, SimTime at,
                             std::string_view subject, std::string sentence) {
  power_.pass(at);
  journal_.note(at, subject, std::move(sentence));
  power_.set_leg(unit, leg, state);
  plant_changed(at);
}

void Bench::Impl::set_misfiring(std::size_t unit, std::size_t leg, bool forward, double share, SimTime at,
                                std::string_view subject, std::string sentence) {
  power_.pass(at);
  journal_.note(at, subject, std::move(sentence));
  power_.stage(unit).set_misfiring(leg, forward, share);
  plant_changed(at);
}

void Bench::Impl::change_sensor(std::size_t zone, const SensorFault& fault, SimTime at,
                                std::string sentence) {
  sensors_[zone] = fault;
  journal_.note(at, spec_.zones[zone].name, std::move(sentence));
  for (std::size_t u = 0; u < units_.size(); ++u) {
    if (spec_.units[u].heats != spec_.zones[zone].name) continue;
    power_.set_sensor_fault(u, fault.broken);
  }
  disturbed(at);
}

void Bench::Impl::set_local_setpoint(std::size_t unit, double fraction, SimTime at) {
  const auto& name = spec_.units[unit].unit.name;
  journal_.note(at, name, "local setpoint turned to " + format_quantity(fraction, Dimension::ratio));
  units_[unit]->set_local_setpoint(fraction, at);
  unit_changed(unit, at);
}

void Bench::Impl::set_plant_speed(double factor, SimTime at) {
  power_.pass(at);
  power_.set_plant_speed(factor);
  journal_.note(at, "plant",
                factor == 1.0
                    ? std::string("zones, walls and sensors run in electrical time again")
                    : "zones, walls and sensors run " + format_number(factor) +
                          " times as fast as electrical time: loop constants found now are not valid");
  disturbed(at);
}

void Bench::Impl::set_fan(std::size_t unit, bool running, SimTime at) {
  auto* sink = power_.heat_sink(unit);
  if (sink == nullptr) {
    journal_.note(at, spec_.units[unit].unit.name, "has no heat sink in this bench: a fan changes nothing");
    return;
  }
  if (sink->fan() == running) return;
  power_.pass(at);
  sink->set_fan(running);
  journal_.note(
      at, spec_.units[unit].unit.name,
      running ? "fan of the heat sink runs again" : "fan of the heat sink stands still: it gets hotter");
  disturbed(at);
}

void Bench::Impl::note_melted_fuses(SimTime now) {
  for (const auto& [unit, leg] : power_.take_melted()) {
    journal_.note(now, leg_name(spec_.units[unit].unit.name, leg), "fuse melted: the line is open");
    disturbed(now);
  }
}

std::optional<std::size_t> Bench::Impl::cut_out_on(std::size_t contactor) const {
  for (std::size_t zone = 0; zone < cut_out_.size(); ++zone)
    if (cut_out_[zone] && spec_.zones[zone].cut_out->opens == spec_.contactors[contactor].name) return zone;
  return std::nullopt;
}

bool Bench::Impl::contactor_closed(std::size_t contactor) const {
  return !cut_out_on(contactor) && wiring_.closed(wiring_.number_of({Wire::Kind::contactor, contactor, {}}));
}

std::string Bench::Impl::what_holds_open(std::size_t wire) const {
  const auto contactor = wiring_.wire(wire);
  if (contactor.kind != Wire::Kind::contactor || !wiring_.closed(wire)) return {};
  const auto zone = cut_out_on(contactor.index);
  return zone ? ", but the cut-out of " + spec_.zones[*zone].name + " holds it open" : std::string();
}

void Bench::Impl::watch_cut_outs(SimTime now) {
  for (std::size_t zone = 0; zone < spec_.zones.size(); ++zone) {
    const auto& spec = spec_.zones[zone].cut_out;
    if (!spec || cut_out_[zone] || power_.zone_degC(zone) < spec->above_degC) continue;
    cut_out_[zone] = true;
    journal_.note(now, spec_.zones[zone].name,
                  "excess-temperature cut-out acts at " +
                      format_quantity(power_.zone_degC(zone), Dimension::temperature) + ": contactor " +
                      spec->opens + " opens and stays open until the cut-out is reset by hand");
    if (const auto contactor = spec_.find_contactor(spec->opens)) apply_contactor(*contactor, now);
  }
}

void Bench::Impl::reset_cut_out(std::size_t zone, SimTime at) {
  const auto& spec = spec_.zones[zone].cut_out;
  const std::string& name = spec_.zones[zone].name;
  if (!spec || !cut_out_[zone]) {
    journal_.note(at, name, spec ? "cut-out reset, but it had not acted" : "has no cut-out");
    return;
  }
  const double below_degC = spec->above_degC - kCutOutDifferential_K;
  if (power_.zone_degC(zone) > below_degC) {
    journal_.note(at, name,
                  "cut-out reset refused: the zone is at " +
                      format_quantity(power_.zone_degC(zone), Dimension::temperature) +
                      ", and it takes a reset below " + format_quantity(below_degC, Dimension::temperature));
    return;
  }
  cut_out_[zone] = false;
  journal_.note(at, name, "cut-out reset by hand: contactor " + spec->opens + " may close again");
  if (const auto contactor = spec_.find_contactor(spec->opens)) apply_contactor(*contactor, at);
}

double Bench::Impl::supply_total(SupplyTotal which) const {
  const auto meter = power_.supply_meter();
  switch (which) {
    case SupplyTotal::neutral_current:
      return meter.neutral_A;
    case SupplyTotal::power:
      return meter.power_W;
    case SupplyTotal::apparent_power:
      return meter.apparent_VA;
    case SupplyTotal::power_factor:
      // Below a thousandth of a voltampere there is nothing but rounding to divide by.
      return meter.apparent_VA > 1e-3 ? meter.power_W / meter.apparent_VA : 0.0;
    case SupplyTotal::demand:
      return meter.demand_W;
    case SupplyTotal::peak_demand:
      return meter.peak_demand_W;
  }
  return 0.0;
}

}  // namespace emberline::bench

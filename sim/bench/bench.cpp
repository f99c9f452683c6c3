#include "sim/bench/bench.hpp"

#include <algorithm>
#include <limits>
#include <string_view>
#include <unordered_map>
#include <utility>

#include "sim/bench/bench_impl.hpp"

namespace emberline::bench {

Bench::Impl::Impl(BenchSpec spec, const Options& options)
    : spec_(std::move(spec)),
      wiring_(spec_),
      power_(spec_, options.plant_speed, options.seed, options.starts_from),
      grid_(spec_.supply.frequency_Hz),
      fed_by_(spec_.units.size()),
      lines_(spec_, journal_, options.seed),
      hints_(spec_, journal_),
      traffic_(spec_),
      sensors_(spec_.zones.size()),
      cut_out_(spec_.zones.size(), false),
      busy_(spec_.units.size(), false),
      timers_(spec_.units.size() + spec_.io_blocks.size()),
      slaves_(spec_.lines.size()),
      ports_(spec_.lines.size()),
      full_(spec_.units.size()),
      timer_source_(*this),
      grid_source_(*this) {
  for (const auto& entry : spec_.units) {
    units_.push_back(std::make_unique<unit::VirtualUnit>(entry.unit, journal_.of_symptoms(), *this));
    settling_ = std::max(settling_, whole_cycles(entry.unit.averaging, spec_.supply.frequency_Hz));
  }
  if (options.starts_from)
    for (const auto& saved : options.starts_from->units)
      if (const auto u = spec_.find_unit(saved.name)) units_[*u]->count_on_from(saved.run_time);
  for (std::size_t u = 0; u < units_.size(); ++u)
    add_slave({units_[u].get(), u, u, spec_.units[u].unit.name, nullptr}, spec_.units[u].unit.lines,
              spec_.units[u].unit.id);
  make_io_blocks();
  connect_contactors();
  find_local_setpoints();
  lines_.add_observer(hints_);
  lines_.add_observer(traffic_);
  apply_all_wires();
  run_grid(SimTime{});
}

void Bench::Impl::make_io_blocks() {
  for (std::size_t b = 0; b < spec_.io_blocks.size(); ++b) {
    const auto& block = spec_.io_blocks[b];
    for (const auto& [address, name] : block.coils) {
      if (const auto wire = find_wire(spec_, name)) wiring_.add_coil(wiring_.number_of(*wire));
    }
    IoBlock::Surroundings surroundings;
    surroundings.value = [this](SignalId id, SimTime now) { return value(id, now); };
    surroundings.coil_changed = [this, b](std::uint16_t coil, bool on, SimTime at) {
      if (const auto wire = find_wire(spec_, spec_.io_blocks[b].coils.at(coil))) {
        coil_changed(wiring_.number_of(*wire), on, at);
      }
    };
    io_blocks_.push_back(
        std::make_unique<IoBlock>(spec_, b, std::move(surroundings), journal_.of_symptoms()));
    add_slave({io_blocks_.back().get(), std::nullopt, units_.size() + b, block.name, nullptr}, block.lines,
              block.id);
  }
}

void Bench::Impl::connect_contactors() {
  std::unordered_map<std::string_view, std::size_t> by_name;
  for (std::size_t u = 0; u < spec_.units.size(); ++u) by_name.emplace(spec_.units[u].unit.name, u);
  for (std::size_t c = 0; c < spec_.contactors.size(); ++c)
    for (const auto& name : spec_.contactors[c].feeds)
      if (const auto unit = by_name.find(name); unit != by_name.end()) fed_by_[unit->second] = c;
}

void Bench::Impl::find_local_setpoints() {
  for (std::size_t u = 0; u < units_.size(); ++u) {
    const auto& name = spec_.units[u].unit.local_setpoint_signal;
    if (!name) continue;
    if (const auto id = find_signal(spec_, *name)) local_setpoints_.emplace_back(u, *id);
  }
}

// --- wires and supplies

void Bench::Impl::apply_wire(std::size_t number, SimTime at) {
  wiring_.look_for_edge(number, at);
  const auto wire = wiring_.wire(number);
  if (wire.kind == Wire::Kind::contactor) {
    apply_contactor(wire.index, at);
    return;
  }
  units_[wire.index]->set_terminal(wire.terminal, wiring_.closed(number), at);
  unit_changed(wire.index, at);
}

void Bench::Impl::apply_all_wires() {
  // As apply_wire() of each, but that no timer is looked for before all terminals are what they are.
  const SimTime start;
  for (std::size_t number = 0; number < wiring_.size(); ++number) {
    const auto wire = wiring_.wire(number);
    if (wire.kind == Wire::Kind::contactor) continue;
    units_[wire.index]->set_terminal(wire.terminal, wiring_.closed(number), start);
    units_[wire.index]->advance(start, full_[wire.index]);
  }
  disturbed(start);
  for (std::size_t contactor = 0; contactor < spec_.contactors.size(); ++contactor)
    apply_contactor(contactor, start);
  for (std::size_t u = 0; u < units_.size(); ++u) look_at_unit_timer(u);
}

void Bench::Impl::apply_contactor(std::size_t contactor, SimTime at) {
  const bool closed = contactor_closed(contactor);
  power_.pass(at);
  for (std::size_t u = 0; u < units_.size(); ++u) {
    if (fed_by_[u] != contactor) continue;
    power_.set_connected(u, closed);
    show_plant_to(u, at);
    power_.change_drive(u, units_[u]->drive());
  }
  power_.settle();
  disturbed(at);
}

void Bench::Impl::coil_changed(std::size_t number, bool on, SimTime at) {
  const bool before = wiring_.closed(number);
  wiring_.coil_changes(number, on);
  if (wiring_.closed(number) == before) return;
  const auto wire = wiring_.wire(number);
  if (wire.kind == Wire::Kind::contactor)
    journal_.note(at, wire_name(spec_, wire),
                  (on ? "contactor closes" : "contactor opens") + what_holds_open(number));
  apply_wire(number, at);
}

void Bench::Impl::wire_fault(const Wire& wire, std::optional<bool> closed, SimTime at,
                             std::string_view what) {
  const auto number = wiring_.number_of(wire);
  wiring_.hold(number, closed);
  journal_.note(
      at, wire_name(spec_, wire),
      std::string(what) + (wiring_.closed(number) ? ": closed" : ": open") + what_holds_open(number));
  apply_wire(number, at);
}

void Bench::Impl::cycle_wire(const Wire& wire, SimTime at) {
  const auto number = wiring_.number_of(wire);
  wiring_.cycle(number, at + kCycleTime);
  journal_.note(at, wire_name(spec_, wire), "wire opened for 1 s");
  apply_wire(number, at);
}

void Bench::Impl::set_unit_powered(std::size_t unit, bool on, SimTime at) {
  if (on && units_[unit]->state() == registers::State::unpowered) power_up_ports(unit);
  units_[unit]->set_powered(on, at);
  unit_changed(unit, at);
}

void Bench::Impl::set_unit_busy(std::size_t unit, bool on, SimTime at) {
  if (busy_[unit] == on) return;
  busy_[unit] = on;
  journal_.note(at, spec_.units[unit].unit.name,
                on ? "stuck: answers every request with exception 06 (busy) and takes none up"
                   : "no longer stuck: takes up requests again");
}

// --- time

void Bench::Impl::disturbed(SimTime at) {
  grid_.disturbed(at);
  // A drive takes effect there.
  settled_at_ = std::max(settled_at_, grid_.next() + settling_);
}

void Bench::Impl::look_at_unit_timer(std::size_t unit) { timers_.set(unit, units_[unit]->next_timer()); }

void Bench::Impl::look_at_block_timer(std::size_t block) {
  timers_.set(units_.size() + block, io_blocks_[block]->next_timer());
}

void Bench::Impl::show_plant_to(std::size_t unit, SimTime at) {
  full_[unit] = power_.full_conduction(unit);
  units_[unit]->measure(at, power_.measured(unit));
  units_[unit]->advance(at, full_[unit]);
  look_at_unit_timer(unit);
}

void Bench::Impl::unit_changed(std::size_t unit, SimTime at) {
  units_[unit]->advance(at, full_[unit]);
  look_at_unit_timer(unit);
  disturbed(at);
  if (units_[unit]->drive().output > 0.0 || power_.stage(unit).drive().output <= 0.0) return;
  power_.pass(at);
  power_.change_drive(unit, units_[unit]->drive());
  power_.settle();
}

std::optional<SimTime> Bench::Impl::next_timer() const {
  std::optional<SimTime> first = wiring_.next_release();
  const auto consider = [&first](std::optional<SimTime> due) {
    if (due && (!first || *due < *first)) first = due;
  };
  if (!later_.empty()) consider(later_.begin()->first);
  consider(timers_.first());
  return first;
}

void Bench::Impl::run_timers(SimTime now) {
  for (auto u = timers_.due(0, now); u && *u < units_.size(); u = timers_.due(*u + 1, now)) {
    units_[*u]->run_timers(now);
    unit_changed(*u, now);
  }
  while (const auto number = wiring_.release_due(now)) {
    const auto wire = wiring_.wire(*number);
    const bool closed = wiring_.closed(*number);
    journal_.tell_of_action(true);  // the end of one
    journal_.note(
        now, wire_name(spec_, wire),
        closed ? "wire released: closed" : "wire released, but nothing closes it: there is no closing edge");
    journal_.tell_of_action(false);
    apply_wire(*number, now);
  }
  for (auto t = timers_.due(units_.size(), now); t; t = timers_.due(*t + 1, now)) {
    const std::size_t block = *t - units_.size();
    io_blocks_[block]->run_timers(now);
    look_at_block_timer(block);
  }
  while (!later_.empty() && later_.begin()->first <= now) later_.extract(later_.begin()).mapped()(now);
}

void Bench::Impl::run_grid(SimTime now) {
  // After a cycle that differed from the one before, what begins now may differ from that once more.
  const bool was_restless = power_.restless();
  power_.pass(now);
  power_.end_cycle();
  note_melted_fuses(now);
  watch_cut_outs(now);
  for (const auto& [unit, signal] : local_setpoints_)
    units_[unit]->set_local_setpoint(value(signal, now), now);
  bool moving = false;
  for (std::size_t u = 0; u < units_.size(); ++u) {
    show_plant_to(u, now);
    moving = power_.set_drive(u, units_[u]->drive()) || moving || units_[u]->unsettled();
  }
  power_.begin_cycle();
  power_.settle();
  // The meters' windows are under way for as long as they remember a change.
  if (moving || was_restless || power_.restless()) settled_at_ = std::max(settled_at_, now + settling_);
  grid_.ran(now < settled_at_);
}

double Bench::Impl::value(SignalId id, SimTime now) const {
  using Kind = SignalId::Kind;
  switch (id.kind) {
    case Kind::unit_point:
      return units_[id.index]->value(static_cast<registers::Point>(id.sub), now);
    case Kind::terminal:
      return wiring_.closed(
                 wiring_.number_of({Wire::Kind::terminal, id.index, static_cast<unit::Terminal>(id.sub)}))
                 ? 1.0
                 : 0.0;
    case Kind::relay:
      return units_[id.index]->relay_closed(id.sub) ? 1.0 : 0.0;
    case Kind::supply_voltage:
      return power_.supply_voltage_V(id.index);
    case Kind::supply_frequency:
      return power_.frequency_Hz();
    case Kind::supply_current:
      return power_.supply_meter().current_A[id.index];
    case Kind::supply_total:
      return supply_total(static_cast<SupplyTotal>(id.sub));
    case Kind::contactor:
      return contactor_closed(id.index) ? 1.0 : 0.0;
    case Kind::zone_temperature:
      return power_.zone_degC(id.index);
    case Kind::zone_measured:
      return sensors_[id.index].broken ? std::numeric_limits<double>::quiet_NaN()
                                       : power_.zone_measured_degC(id.index) + sensors_[id.index].offset_K;
    case Kind::zone_cut_out:
      return cut_out_[id.index] ? 1.0 : 0.0;
    case Kind::io_coil:
    case Kind::io_discrete:
    case Kind::io_input:
      return io_blocks_[id.index]->value(id.kind, id.sub, now);
    case Kind::line_state:
      return lines_.state(id.index);
  }
  return 0.0;
}

BenchState Bench::Impl::save_state(SimTime now) {
  power_.pass(now);
  BenchState saved;
  saved.bench = spec_.title;
  saved.taken_at = now;
  power_.save(saved);
  for (std::size_t u = 0; u < units_.size(); ++u)
    saved.units[u].run_time = from_seconds(units_[u]->value(registers::Point::run_time, now));
  return saved;
}

// --- the public face

Bench::Bench(BenchSpec spec, const Options& options)
    : impl_(std::make_unique<Impl>(std::move(spec), options)) {}
Bench::~Bench() = default;

const BenchSpec& Bench::spec() const { return impl_->spec_; }
Journal& Bench::journal() { return impl_->journal_; }
EventSource& Bench::timers() { return impl_->timer_source_; }
EventSource& Bench::grid() { return impl_->grid_source_; }

Bench::Reply Bench::request(std::size_t line, std::uint8_t unit_id, modbus::ByteView pdu, SimTime at,
                            std::string_view master) {
  return impl_->request(line, unit_id, pdu, at, master);
}
void Bench::heard(std::size_t line, modbus::Heard what) { impl_->heard(line, what); }

void Bench::set_line_cut(std::size_t line, bool cut, SimTime at) {
  if (cut) {
    impl_->lines_.cut(line, Way::both, at);
  } else {
    impl_->lines_.mend(line, at);
  }
}
bool Bench::line_cut(std::size_t line) const { return !impl_->lines_.passes(line, Way::both); }
Lines& Bench::lines() { return impl_->lines_; }
const Lines& Bench::lines() const { return impl_->lines_; }
void Bench::set_unit_busy(std::size_t unit, bool on, SimTime at) { impl_->set_unit_busy(unit, on, at); }
void Bench::later(SimTime when, std::function<void(SimTime)> what) {
  impl_->later_.emplace(when, std::move(what));
}
void Bench::open_wire(const Wire& wire, SimTime at) { impl_->wire_fault(wire, false, at, "wire broken"); }
void Bench::close_wire(const Wire& wire, SimTime at) { impl_->wire_fault(wire, true, at, "wire bridged"); }
void Bench::release_wire(const Wire& wire, SimTime at) {
  impl_->wire_fault(wire, std::nullopt, at, "wire released");
}
void Bench::cycle_wire(const Wire& wire, SimTime at) { impl_->cycle_wire(wire, at); }
std::optional<SimTime> Bench::wire_closed_at(const Wire& wire) const {
  return impl_->wiring_.closed_at(impl_->wiring_.number_of(wire));
}
void Bench::set_unit_powered(std::size_t unit, bool on, SimTime at) { impl_->set_unit_powered(unit, on, at); }

const plant::SupplyState& Bench::supply_state() const { return impl_->power_.supply_state(); }
void Bench::change_supply(const plant::SupplyState& state, SimTime at, std::string_view subject,
                          std::string sentence) {
  impl_->change_supply(state, at, subject, std::move(sentence));
}
const plant::LegState& Bench::leg_state(std::size_t unit, std::size_t leg) const {
  return impl_->power_.stage(unit).leg(leg);
}
void Bench::change_leg(std::size_t unit, std::size_t leg, const plant::LegState& state, SimTime at,
                       std::string_view subject, std::string sentence) {
  impl_->change_leg(unit, leg, state, at, subject, std::move(sentence));
}
double Bench::misfiring(std::size_t unit, std::size_t leg, bool forward) const {
  return impl_->power_.stage(unit).misfiring(leg, forward);
}
void Bench::set_misfiring(std::size_t unit, std::size_t leg, bool forward, double share, SimTime at,
                          std::string_view subject, std::string sentence) {
  impl_->set_misfiring(unit, leg, forward, share, at, subject, std::move(sentence));
}
const Bench::SensorFault& Bench::sensor_fault(std::size_t zone) const { return impl_->sensors_[zone]; }
void Bench::change_sensor(std::size_t zone, const SensorFault& fault, SimTime at, std::string sentence) {
  impl_->change_sensor(zone, fault, at, std::move(sentence));
}
bool Bench::fan_running(std::size_t unit) const {
  const auto* sink = std::as_const(impl_->power_).heat_sink(unit);
  return sink == nullptr || sink->fan();
}
void Bench::set_local_setpoint(std::size_t unit, double fraction, SimTime at) {
  impl_->set_local_setpoint(unit, fraction, at);
}
void Bench::set_plant_speed(double factor, SimTime at) { impl_->set_plant_speed(factor, at); }
double Bench::plant_speed() const { return impl_->power_.plant_speed(); }
void Bench::action_done(const ActionDone& done) {
  if (impl_->on_action_) impl_->on_action_(done);
}
void Bench::on_action(std::function<void(const ActionDone&)> listener) {
  impl_->on_action_ = std::move(listener);
}
void Bench::set_fan(std::size_t unit, bool running, SimTime at) { impl_->set_fan(unit, running, at); }
void Bench::learn_load(std::size_t unit, SimTime at) {
  impl_->units_[unit]->learn_load(at);
  impl_->look_at_unit_timer(unit);
}
void Bench::reset_cut_out(std::size_t zone, SimTime at) { impl_->reset_cut_out(zone, at); }
Bench::HeatBalance Bench::heat_balance() const {
  const auto& heat = impl_->power_.heat();
  return {heat.given_J(), heat.stored_J(), heat.lost_J()};
}
BenchState Bench::save_state(SimTime now) { return impl_->save_state(now); }
plant::Waves Bench::waves(std::size_t unit) const { return impl_->power_.waves(unit); }

double Bench::value(SignalId id, SimTime now) const { return impl_->value(id, now); }
const unit::VirtualUnit& Bench::unit(std::size_t index) const { return *impl_->units_[index]; }
TrafficReview Bench::traffic() const { return impl_->traffic_.review(); }
void Bench::on_write(std::function<void(const unit::WriteSeen&)> listener) {
  impl_->on_write_ = std::move(listener);
}

}  // namespace emberline::bench

#include "sim/bench/bench.hpp"

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

#include "sim/bench/grid.hpp"
#include "sim/bench/io_block.hpp"
#include "sim/bench/power_side.hpp"
#include "sim/bench/wiring.hpp"

namespace emberline::bench {
namespace {

constexpr std::uint8_t kBroadcast = 0;
constexpr std::uint8_t kTcpDirect =
    255;  ///< Messaging on TCP/IP V1.0b, 4.4.1: a directly addressed server; 0 is accepted too

/// Function codes that only read never move anything.
bool may_change(modbus::ByteView pdu) { return !pdu.empty() && (pdu[0] == 0 || pdu[0] > 0x04); }

}  // namespace

class Bench::Impl final : public unit::UnitObserver {
 public:
  Impl(BenchSpec spec, const Options& options)
      : spec_(std::move(spec)),
        wiring_(spec_),
        power_(spec_, options.plant_speed),
        grid_(spec_.supply.frequency_Hz),
        fed_by_(spec_.units.size()),
        cut_(spec_.lines.size(), false),
        slaves_(spec_.lines.size()),
        full_(spec_.units.size()),
        timer_source_(*this),
        grid_source_(*this) {
    for (const auto& entry : spec_.units) {
      units_.push_back(std::make_unique<unit::VirtualUnit>(entry.unit, journal_, *this));
      settling_ = std::max(settling_, whole_cycles(entry.unit.averaging, spec_.supply.frequency_Hz));
    }
    for (std::size_t u = 0; u < units_.size(); ++u)
      add_slave(spec_.units[u].unit.lines, spec_.units[u].unit.id, *units_[u]);
    make_io_blocks();
    connect_contactors();
    find_local_setpoints();
    for (std::size_t number = 0; number < wiring_.size(); ++number) apply_wire(number, SimTime{});
    run_grid(SimTime{});
  }

  // --- requests
  Reply request(std::size_t line, std::uint8_t id, modbus::ByteView pdu, SimTime at, std::string_view master);

  // --- wires and supplies
  void wire_fault(const Wire& wire, std::optional<bool> closed, SimTime at, std::string_view what);
  void cycle_wire(const Wire& wire, SimTime at);
  void set_unit_powered(std::size_t unit, bool on, SimTime at);
  void set_line_cut(std::size_t line, bool cut, SimTime at);

  // --- time
  [[nodiscard]] std::optional<SimTime> next_timer() const;
  void run_timers(SimTime now);
  void run_grid(SimTime now);

  [[nodiscard]] double value(SignalId id, SimTime now) const;
  void write_seen(const unit::WriteSeen& write) override {
    if (on_write_) on_write_(write);
  }

  class TimerSource final : public EventSource {
   public:
    explicit TimerSource(Impl& impl) : impl_(impl) {}
    [[nodiscard]] std::optional<SimTime> next() const override { return impl_.next_timer(); }
    void run(SimTime now) override { impl_.run_timers(now); }

   private:
    Impl& impl_;
  };
  class GridSource final : public EventSource {
   public:
    explicit GridSource(Impl& impl) : impl_(impl) {}
    [[nodiscard]] std::optional<SimTime> next() const override { return impl_.grid_.next(); }
    void run(SimTime now) override {
      // The grid is never skipped: after a stall of the machine it catches up instant by instant.
      while (impl_.grid_.next() <= now) impl_.run_grid(impl_.grid_.next());
    }

   private:
    Impl& impl_;
  };

  struct Station {
    modbus::Slave* slave = nullptr;
    std::optional<std::size_t> unit;  ///< set when the slave is a unit
  };

  void add_slave(const std::vector<std::string>& lines, int id, modbus::Slave& slave);
  void make_io_blocks();
  void connect_contactors();
  void find_local_setpoints();
  void apply_wire(std::size_t number, SimTime at);
  void coil_changed(std::size_t number, bool on, SimTime at);
  void unit_changed(std::size_t unit, SimTime at);
  std::optional<modbus::Bytes> hand_over(const Station& station, modbus::ByteView pdu,
                                         const modbus::Arrival& arrival);
  [[nodiscard]] Station only_slave(std::size_t line) const;
  void apply_contactor(std::size_t contactor, SimTime at);
  void disturbed(SimTime at);

  BenchSpec spec_;
  Journal journal_;
  Wiring wiring_;
  PowerSide power_;
  Grid grid_;
  std::vector<std::unique_ptr<unit::VirtualUnit>> units_;
  std::vector<std::unique_ptr<IoBlock>> io_blocks_;
  std::vector<std::optional<std::size_t>> fed_by_;  ///< contactor of each unit
  std::vector<std::pair<std::size_t, SignalId>>
      local_setpoints_;  ///< unit, signal its local setpoint follows
  std::vector<bool> cut_;
  std::vector<std::array<Station, 256>> slaves_;  ///< by line and unit id
  std::vector<unit::FullConduction> full_;
  std::function<void(const unit::WriteSeen&)> on_write_;
  Duration settling_{};
  SimTime settled_at_{};
  TimerSource timer_source_;
  GridSource grid_source_;
};

void Bench::Impl::add_slave(const std::vector<std::string>& lines, int id, modbus::Slave& slave) {
  for (const auto& name : lines) {
    const auto line = spec_.find_line(name);
    if (!line) continue;
    auto& station = slaves_[*line][static_cast<std::uint8_t>(id)];
    station.slave = &slave;
    for (std::size_t u = 0; u < units_.size(); ++u)
      if (units_[u].get() == &slave) station.unit = u;
  }
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
    io_blocks_.push_back(std::make_unique<IoBlock>(spec_, b, std::move(surroundings), journal_));
    add_slave(block.lines, block.id, *io_blocks_.back());
  }
}

void Bench::Impl::connect_contactors() {
  for (std::size_t c = 0; c < spec_.contactors.size(); ++c)
    for (const auto& name : spec_.contactors[c].feeds)
      if (const auto unit = spec_.find_unit(name)) fed_by_[*unit] = c;
}

void Bench::Impl::find_local_setpoints() {
  for (std::size_t u = 0; u < units_.size(); ++u) {
    const auto& name = spec_.units[u].unit.local_setpoint_signal;
    if (!name) continue;
    if (const auto id = find_signal(spec_, *name)) local_setpoints_.emplace_back(u, *id);
  }
}

// --- requests

Bench::Impl::Station Bench::Impl::only_slave(std::size_t line) const {
  Station only;
  for (const auto& station : slaves_[line]) {
    if (station.slave == nullptr) continue;
    if (only.slave != nullptr) return {};
    only = station;
  }
  return only;
}

std::optional<modbus::Bytes> Bench::Impl::hand_over(const Station& station, modbus::ByteView pdu,
                                                    const modbus::Arrival& arrival) {
  auto reply = station.slave->take_up(pdu, arrival);
  if (station.unit && may_change(pdu)) unit_changed(*station.unit, arrival.at);
  return reply;
}

Bench::Reply Bench::Impl::request(std::size_t line, std::uint8_t id, modbus::ByteView pdu, SimTime at,
                                  std::string_view master) {
  const auto& line_spec = spec_.lines[line];
  modbus::Arrival arrival{at, line_spec.name, master, false};
  if (id == kBroadcast && carries_rtu(line_spec.kind)) {
    arrival.broadcast = true;
    for (const auto& station : slaves_[line])
      if (station.slave != nullptr) hand_over(station, pdu, arrival);
    return {std::nullopt, true};
  }
  Station station = slaves_[line][id];
  if (station.slave == nullptr && !carries_rtu(line_spec.kind) && (id == kBroadcast || id == kTcpDirect)) {
    station = only_slave(line);
  }
  if (station.slave != nullptr) return {hand_over(station, pdu, arrival), true};
  if (!line_spec.unknown_id_exception_0b || pdu.empty()) return {};
  return {modbus::exception_pdu(pdu[0], modbus::Refusal::gateway_target_failed), false};
}

// --- wires and supplies

void Bench::Impl::apply_wire(std::size_t number, SimTime at) {
  const auto wire = wiring_.wire(number);
  if (wire.kind == Wire::Kind::contactor) {
    apply_contactor(wire.index, at);
    return;
  }
  units_[wire.index]->set_terminal(wire.terminal, wiring_.closed(number), at);
  unit_changed(wire.index, at);
}

void Bench::Impl::apply_contactor(std::size_t contactor, SimTime at) {
  const bool closed = wiring_.closed(wiring_.number_of({Wire::Kind::contactor, contactor, {}}));
  power_.pass(at);
  for (std::size_t u = 0; u < units_.size(); ++u) {
    if (fed_by_[u] != contactor) continue;
    power_.set_connected(u, closed);
    full_[u] = power_.full_conduction(u);
    auto measured = power_.measured(u);
    units_[u]->measure(at, measured);
    units_[u]->advance(at, full_[u]);
    power_.set_drive(u, units_[u]->drive());
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
    journal_.note(at, wire_name(spec_, wire), on ? "contactor closes" : "contactor opens");
  apply_wire(number, at);
}

void Bench::Impl::wire_fault(const Wire& wire, std::optional<bool> closed, SimTime at,
                             std::string_view what) {
  const auto number = wiring_.number_of(wire);
  wiring_.hold(number, closed);
  journal_.note(at, wire_name(spec_, wire),
                std::string(what) + (wiring_.closed(number) ? ": closed" : ": open"));
  apply_wire(number, at);
}

void Bench::Impl::cycle_wire(const Wire& wire, SimTime at) {
  const auto number = wiring_.number_of(wire);
  wiring_.cycle(number, at + kCycleTime);
  journal_.note(at, wire_name(spec_, wire), "wire opened for 1 s");
  apply_wire(number, at);
}

void Bench::Impl::set_unit_powered(std::size_t unit, bool on, SimTime at) {
  units_[unit]->set_powered(on, at);
  unit_changed(unit, at);
}

void Bench::Impl::set_line_cut(std::size_t line, bool cut, SimTime at) {
  if (cut_[line] == cut) return;
  cut_[line] = cut;
  journal_.note(at, spec_.lines[line].name,
                cut ? "cable pulled: nothing gets through" : "cable plugged in again");
}

// --- time

void Bench::Impl::disturbed(SimTime at) {
  settled_at_ = std::max(settled_at_, at + settling_);
  grid_.disturbed(at);
}

void Bench::Impl::unit_changed(std::size_t unit, SimTime at) {
  units_[unit]->advance(at, full_[unit]);
  power_.pass(at);
  power_.set_drive(unit, units_[unit]->drive());
  power_.settle();
  disturbed(at);
}

std::optional<SimTime> Bench::Impl::next_timer() const {
  std::optional<SimTime> first = wiring_.next_release();
  const auto consider = [&first](std::optional<SimTime> due) {
    if (due && (!first || *due < *first)) first = due;
  };
  for (const auto& unit : units_) consider(unit->next_timer());
  for (const auto& block : io_blocks_) consider(block->next_timer());
  return first;
}

void Bench::Impl::run_timers(SimTime now) {
  for (std::size_t u = 0; u < units_.size(); ++u) {
    const auto due = units_[u]->next_timer();
    if (!due || *due > now) continue;
    units_[u]->run_timers(now);
    unit_changed(u, now);
  }
  while (const auto number = wiring_.release_due(now)) {
    const auto wire = wiring_.wire(*number);
    const bool closed = wiring_.closed(*number);
    journal_.note(
        now, wire_name(spec_, wire),
        closed ? "wire released: closed" : "wire released, but nothing closes it: there is no closing edge");
    apply_wire(*number, now);
  }
  for (auto& block : io_blocks_) block->run_timers(now);
}

void Bench::Impl::run_grid(SimTime now) {
  power_.pass(now);
  for (const auto& [unit, signal] : local_setpoints_)
    units_[unit]->set_local_setpoint(value(signal, now), now);
  bool ramping = false;
  for (std::size_t u = 0; u < units_.size(); ++u) {
    full_[u] = power_.full_conduction(u);
    units_[u]->measure(now, power_.measured(u));
    units_[u]->advance(now, full_[u]);
    power_.set_drive(u, units_[u]->drive());
    ramping = ramping || units_[u]->ramping();
  }
  power_.begin_cycle();
  power_.settle();
  // The meters' windows are under way for as long as they remember a change.
  if (ramping || power_.bursting()) settled_at_ = std::max(settled_at_, now + settling_);
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
    case Kind::contactor:
      return wiring_.closed(wiring_.number_of({Wire::Kind::contactor, id.index, {}})) ? 1.0 : 0.0;
    case Kind::zone_temperature:
      return power_.zone_degC(id.index);
    case Kind::zone_measured:
      return power_.zone_measured_degC(id.index);
    case Kind::io_coil:
    case Kind::io_discrete:
    case Kind::io_input:
      return io_blocks_[id.index]->value(id.kind, id.sub, now);
    case Kind::line_state:
      return cut_[id.index] ? 1.0 : 0.0;
  }
  return 0.0;
}

// --- the public face

Bench::Bench(BenchSpec spec, Options options) : impl_(std::make_unique<Impl>(std::move(spec), options)) {}
Bench::~Bench() = default;

const BenchSpec& Bench::spec() const { return impl_->spec_; }
Journal& Bench::journal() { return impl_->journal_; }
EventSource& Bench::timers() { return impl_->timer_source_; }
EventSource& Bench::grid() { return impl_->grid_source_; }

Bench::Reply Bench::request(std::size_t line, std::uint8_t unit_id, modbus::ByteView pdu, SimTime at,
                            std::string_view master) {
  return impl_->request(line, unit_id, pdu, at, master);
}

void Bench::set_line_cut(std::size_t line, bool cut, SimTime at) { impl_->set_line_cut(line, cut, at); }
bool Bench::line_cut(std::size_t line) const { return impl_->cut_[line]; }
void Bench::open_wire(const Wire& wire, SimTime at) { impl_->wire_fault(wire, false, at, "wire broken"); }
void Bench::close_wire(const Wire& wire, SimTime at) { impl_->wire_fault(wire, true, at, "wire bridged"); }
void Bench::release_wire(const Wire& wire, SimTime at) {
  impl_->wire_fault(wire, std::nullopt, at, "wire released");
}
void Bench::cycle_wire(const Wire& wire, SimTime at) { impl_->cycle_wire(wire, at); }
void Bench::set_unit_powered(std::size_t unit, bool on, SimTime at) { impl_->set_unit_powered(unit, on, at); }

double Bench::value(SignalId id, SimTime now) const { return impl_->value(id, now); }
const unit::VirtualUnit& Bench::unit(std::size_t index) const { return *impl_->units_[index]; }
void Bench::on_write(std::function<void(const unit::WriteSeen&)> listener) {
  impl_->on_write_ = std::move(listener);
}

}  // namespace emberline::bench

#include "sim/unit/virtual_unit.hpp"

#include <cassert>

#include "sim/unit/relays.hpp"
#include "sim/unit/unit_core.hpp"

namespace emberline::unit {

VirtualUnit::VirtualUnit(const UnitSpec& spec, JournalSink& journal, UnitObserver& observer)
    : impl_(std::make_unique<Impl>(spec, journal, observer)) {}
VirtualUnit::~VirtualUnit() = default;
void VirtualUnit::count_on_from(Duration run_time) { impl_->count_on_from(run_time); }

std::optional<modbus::Bytes> VirtualUnit::take_up(modbus::ByteView pdu, const modbus::Arrival& arrival) {
  return impl_->take_up(pdu, arrival);
}

Duration VirtualUnit::ready_after() const { return impl_->ready_after(); }

void VirtualUnit::set_terminal(Terminal which, bool closed, SimTime at) {
  impl_->set_terminal(which, closed, at);
}

bool VirtualUnit::terminal(Terminal which) const { return impl_->terminal(which); }

void VirtualUnit::set_powered(bool on, SimTime at) { impl_->set_powered(on, at); }

void VirtualUnit::set_local_setpoint(double fraction, SimTime at) { impl_->set_local_setpoint(fraction, at); }

void VirtualUnit::learn_load(SimTime at) { impl_->learn_load("the operator", at); }

bool VirtualUnit::relay_closed(std::size_t index) const {
  assert(index < impl_->spec_.relays.size());
  return contact_closed(impl_->spec_.relays[index],
                        RelayInputs{impl_->powered_, impl_->warnings(), impl_->trips()});
}

std::optional<SimTime> VirtualUnit::next_timer() const { return impl_->next_timer(); }

void VirtualUnit::run_timers(SimTime now) { impl_->run_timers(now); }

void VirtualUnit::advance(SimTime now, const FullConduction& full) { impl_->advance(now, full); }

void VirtualUnit::measure(SimTime now, const Measured& measured) { impl_->measure(now, measured); }

Drive VirtualUnit::drive() const { return impl_->path_.drive(); }

bool VirtualUnit::ramping() const { return impl_->path_.ramping(); }

bool VirtualUnit::unsettled() const { return impl_->unsettled(); }

const UnitSpec& VirtualUnit::spec() const { return impl_->spec_; }

double VirtualUnit::value(registers::Point point, SimTime now) const { return impl_->value(point, now); }

registers::State VirtualUnit::state() const { return impl_->state_; }

std::vector<NextStep> VirtualUnit::next_steps(SimTime now) const { return impl_->next_steps(now); }

std::uint64_t VirtualUnit::settings_version() const { return impl_->settings_version(); }

const Watchdog& VirtualUnit::watchdog() const { return impl_->watchdog(); }

}  // namespace emberline::unit

// What masters reach: which slave a unit id stands for, broadcasts, and ids that nobody has.
#include "sim/bench/bench_impl.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/unit/state.hpp"

namespace emberline::bench {
namespace {

constexpr std::uint8_t kBroadcast = 0;
/// A directly addressed server; 0 is accepted too (Messaging on TCP/IP V1.0b, 4.4.1).
constexpr std::uint8_t kTcpDirect = 255;

}  // namespace

void Bench::Impl::add_slave(const Station& station, const std::vector<std::string>& lines, int id) {
  for (const auto& line_name : lines) {
    const auto line = spec_.find_line(line_name);
    if (!line) continue;
    auto& here = slaves_[*line][static_cast<std::uint8_t>(id)];
    here = station;
    if (!carries_rtu(spec_.lines[*line].kind)) continue;
    ports_[*line].push_back(std::make_unique<Port>());
    ports_[*line].back()->unit = station.unit;
    here.port = &ports_[*line].back()->diagnostics;
  }
}

void Bench::Impl::heard(std::size_t line, modbus::Heard what) {
  for (auto& port : ports_[line]) {
    const bool on = !port->unit || unit::answers(units_[*port->unit]->state());
    if (on) port->diagnostics.heard(what);
  }
}

void Bench::Impl::power_up_ports(std::size_t unit) {
  for (auto& on_line : ports_)
    for (auto& port : on_line)
      if (port->unit == unit) port->diagnostics.power_up();
}

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
                                                    modbus::Arrival arrival) {
  arrival.port = station.port;
  const bool listened = arrival.port != nullptr && arrival.port->listen_only();
  auto reply = let_take_up(station, pdu, arrival);
  if (arrival.port != nullptr && arrival.port->listen_only() != listened) {
    journal_.note(arrival.at, std::string(station.name),
                  listened
                      ? "communications restarted by " + std::string(arrival.master) + ": answers again on " +
                            std::string(arrival.line)
                      : "listen-only mode forced by " + std::string(arrival.master) +
                            ": no answer, no action " + "and no feeding on " + std::string(arrival.line) +
                            " until communications are restarted (08/01) or its supply is cycled");
  }
  return reply;
}

std::optional<modbus::Bytes> Bench::Impl::let_take_up(const Station& station, modbus::ByteView pdu,
                                                      const modbus::Arrival& arrival) {
  if (!station.unit) {
    auto reply = station.slave->take_up(pdu, arrival);
    look_at_block_timer(station.timer - units_.size());
    return reply;
  }
  const auto& unit = *units_[*station.unit];
  const auto state = unit.state();
  if (busy_[*station.unit] && !pdu.empty()) {
    if (!unit::answers(state)) return std::nullopt;
    return modbus::serve(pdu, arrival,
                         [&] { return modbus::exception_pdu(pdu[0], modbus::Refusal::server_device_busy); });
  }
  const auto drive = unit.drive();
  const auto settings = unit.settings_version();
  auto reply = station.slave->take_up(pdu, arrival);
  look_at_unit_timer(*station.unit);
  // Otherwise the grid goes on as it was: polling, and writing what is there, move no physics.
  if (unit.settings_version() != settings || unit.state() != state || unit.drive() != drive)
    unit_changed(*station.unit, arrival.at);
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
    return {std::nullopt, true, {}};
  }
  Station station = slaves_[line][id];
  if (station.slave == nullptr && !carries_rtu(line_spec.kind) && (id == kBroadcast || id == kTcpDirect)) {
    station = only_slave(line);
  }
  if (station.slave != nullptr) {
    auto answer = hand_over(station, pdu, arrival);
    return {std::move(answer), true, station.slave->ready_after()};
  }
  if (!line_spec.unknown_id_exception_0b || pdu.empty()) return {};
  return {modbus::exception_pdu(pdu[0], modbus::Refusal::gateway_target_failed), false, {}};
}

}  // namespace emberline::bench

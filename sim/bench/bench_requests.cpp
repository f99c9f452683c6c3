// What masters reach: which slave a unit id stands for, broadcasts, and ids that nobody has.
#include "sim/bench/bench_impl.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::bench {
namespace {

constexpr std::uint8_t kBroadcast = 0;
/// A directly addressed server; 0 is accepted too (Messaging on TCP/IP V1.0b, 4.4.1).
constexpr std::uint8_t kTcpDirect = 255;

}  // namespace

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
  if (!station.unit) return station.slave->take_up(pdu, arrival);
  const auto& unit = *units_[*station.unit];
  const auto state = unit.state();
  const auto drive = unit.drive();
  auto reply = station.slave->take_up(pdu, arrival);
  // Writes may change anything. Of the rest only what feeds the watchdog can: it may end a hold. Where
  // nothing changed the power side stays untouched, so that polling moves no physics.
  const bool wrote = !pdu.empty() && modbus::is_write_function(pdu[0]);
  if (wrote || unit.state() != state || unit.drive() != drive) unit_changed(*station.unit, arrival.at);
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

}  // namespace emberline::bench

#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "sim/rehearsal/conduct_judge.hpp"
#include "tests/support/heated_bench.hpp"

namespace emberline::testing {

/// Something a master does to the heated bench, for a judge of its conduct.
struct Deed {
  Duration at;
  bool is_write = true;
  double asked = 0.0;  ///< of a write: the value, SI
  bool accepted = true;
  registers::Point point = registers::Point::setpoint;
  modbus::Bytes pdu{};  ///< of a request
  modbus::Bytes answer{};
  std::string master = "plc";
  std::size_t line = 0;
  std::uint8_t id = 1;
  bool again = false;
};

inline Deed write_of(Duration at, double asked, bool accepted = true, std::string master = "plc") {
  Deed deed{at};
  deed.asked = asked;
  deed.accepted = accepted;
  deed.master = std::move(master);
  return deed;
}

inline Deed request_of(Duration at, modbus::Bytes pdu, modbus::Bytes answer = {0x03, 0x02, 0x00, 0x00}) {
  Deed deed{at};
  deed.is_write = false;
  deed.pdu = std::move(pdu);
  deed.answer = std::move(answer);
  return deed;
}

/// A read of registers by function 03, or another.
inline Deed read_of(Duration at, int first, int count, int function = 3) {
  return request_of(at, {static_cast<std::uint8_t>(function), 0, static_cast<std::uint8_t>(first), 0,
                         static_cast<std::uint8_t>(count)});
}

inline Deed read_by(Duration at, int first, std::string master) {
  auto deed = read_of(at, first, 1);
  deed.master = std::move(master);
  return deed;
}

/// Plays deeds, which are in the order of time, to a judge whose interval goes from `from` to `end`, which
/// belongs to it unless it is `until`. Looks as the judge of a rehearsal does: once after each instant at
/// which anything happens or that the judge asks for.
inline rehearsal::Finding played(const rehearsal::Conduct& conduct, const std::vector<Deed>& deeds,
                                 Duration from, Duration end, bool until = false,
                                 const bench::BenchSpec& bench = heated_bench(), bool any_master = false) {
  rehearsal::ConductJudge judge(conduct, bench, any_master);
  judge.begin(SimTime{from});
  const auto look_up_to = [&](SimTime now) -> std::optional<rehearsal::Finding> {
    for (auto next = judge.next(); next && *next < now; next = judge.next())
      if (auto found = judge.look(*next)) return found;
    return std::nullopt;
  };
  for (std::size_t i = 0; i < deeds.size(); ++i) {
    const auto& deed = deeds[i];
    const SimTime now{deed.at};
    if (deed.at < from || deed.at > end || (until && deed.at == end)) continue;
    if (auto found = look_up_to(now)) return *found;
    if (deed.is_write) {
      judge.write({now, "heater", deed.point, deed.asked, deed.accepted, deed.master, "field"});
    } else {
      bench::RequestSeen seen;
      seen.session = 1;
      seen.line = deed.line;
      seen.master = deed.master;
      seen.at = now;
      seen.unit_id = deed.id;
      seen.pdu = deed.pdu;
      seen.addressed = true;
      seen.answer = deed.answer;
      judge.request(seen, deed.again);
    }
    const bool more_now = i + 1 < deeds.size() && deeds[i + 1].at == deed.at;
    if (more_now) continue;
    if (auto found = judge.look(now)) return *found;
  }
  if (auto found = look_up_to(SimTime{end})) return *found;
  if (!until)
    if (auto found = judge.look(SimTime{end})) return *found;
  return judge.finish(SimTime{end});
}

/// A condition on a value of this dimension.
inline rehearsal::Condition compared(rehearsal::Condition::Comparator comparator, double a, double b = 0.0,
                                     Dimension dimension = Dimension::number) {
  rehearsal::Condition condition;
  condition.info.dimension = dimension;
  condition.comparator = comparator;
  condition.a = a;
  condition.b = b;
  return condition;
}

/// What is expected of the heater's setpoint.
inline rehearsal::Conduct about_setpoint(rehearsal::ConductKind kind) {
  rehearsal::Conduct conduct;
  conduct.kind = kind;
  conduct.name = "heater.setpoint";
  return conduct;
}

}  // namespace emberline::testing

#pragma once

#include <string>
#include <variant>
#include <vector>

#include "sim/modbus/mbap_framer.hpp"
#include "sim/modbus/rtu_framer.hpp"
#include "tests/sim/modbus/hex.hpp"

namespace emberline::test {

/// "request 17 at 7000000000: 03 00 6B 00 03", "foreign at 7000000000: 11 83 02 C1 34" or "bad_crc at
/// 7050000000: 55"; times in ns since the start.
inline std::string to_text(const modbus::RtuFramer::Outcome& outcome) {
  const auto ns = [](SimTime at) { return std::to_string(at.time_since_epoch().count()); };
  if (const auto* request = std::get_if<modbus::RtuRequest>(&outcome))
    return "request " + std::to_string(request->address) + " at " + ns(request->last_byte) + ": " +
           to_hex(request->pdu);
  if (const auto* answer = std::get_if<modbus::RtuForeignAnswer>(&outcome))
    return "foreign at " + ns(answer->last_byte) + ": " + to_hex(answer->frame);
  const auto& fault = std::get<modbus::RtuFault>(outcome);
  const char* const kinds[] = {"bad_crc", "too_short", "too_long", "gap_inside"};
  return std::string(kinds[static_cast<std::size_t>(fault.kind)]) + " at " + ns(fault.at) + ": " +
         to_hex(fault.bytes);
}

/// "request 1501 unit FF: 03 00 04 00 01", "wrong_protocol" or "bad_length"; the transaction is decimal.
inline std::string to_text(const modbus::MbapFramer::Outcome& outcome) {
  if (const auto* request = std::get_if<modbus::MbapRequest>(&outcome))
    return "request " + std::to_string(request->transaction) + " unit " + std::to_string(request->unit) +
           ": " + to_hex(request->pdu);
  const auto kind = std::get<modbus::MbapFault>(outcome).kind;
  return kind == modbus::MbapFault::Kind::wrong_protocol ? "wrong_protocol" : "bad_length";
}

inline std::vector<std::string> all_outcomes(modbus::RtuFramer& framer, SimTime now) {
  std::vector<std::string> texts;
  while (const auto outcome = framer.poll(now)) texts.push_back(to_text(*outcome));
  return texts;
}

inline std::vector<std::string> all_outcomes(modbus::MbapFramer& framer) {
  std::vector<std::string> texts;
  while (const auto outcome = framer.poll()) texts.push_back(to_text(*outcome));
  return texts;
}

}  // namespace emberline::test

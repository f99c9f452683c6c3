#pragma once

#include <cstdint>
#include <optional>

#include "sim/modbus/bytes.hpp"
#include "sim/modbus/diagnostics.hpp"
#include "sim/modbus/identity.hpp"

namespace emberline::modbus {

/// True for the functions about the device itself instead of its memory: 07, 08, 0B, 0C, 11 and 2B (hex).
[[nodiscard]] bool is_about_device(std::uint8_t function_code);
/// True for those of them that the standard labels "Serial Line only": all but 2B.
[[nodiscard]] bool is_serial_only(std::uint8_t function_code);

/// What a slave knows about itself at the instant of a request.
struct DeviceFace {
  const Identity& identity;
  std::uint8_t unit_id;
  std::uint8_t exception_status;  ///< 07
  bool running;                   ///< 11: the run indicator
};

/// The answer to a request that is_about_device(); nothing is silence (08/04, and 08/01 in listen-only mode).
/// `port` is null on lines that are not serial, where what is serial only is refused with 01: the standard
/// gives no answer for it there, and this is the one for a function that is not supported.
[[nodiscard]] std::optional<Bytes> answer_about_device(ByteView pdu, const DeviceFace& face,
                                                       Diagnostics* port);

}  // namespace emberline::modbus

#pragma once

#include <cstdint>

#include "sim/modbus/bytes.hpp"

namespace emberline::modbus {

/// CRC-16/MODBUS: polynomial 8005h reflected, start FFFFh (MODBUS over Serial Line V1.02, 6.2.2).
/// On the wire the low byte goes first.
[[nodiscard]] std::uint16_t crc16(ByteView bytes);

/// `address` + `pdu` + CRC: a whole RTU frame. The PDU is at most 253 bytes.
[[nodiscard]] Bytes rtu_frame(std::uint8_t address, ByteView pdu);

}  // namespace emberline::modbus

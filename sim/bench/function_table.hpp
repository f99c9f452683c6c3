#pragma once

#include "sim/modbus/pdu.hpp"

namespace emberline::bench {

/// The table that a function code reads or writes (MODBUS Application Protocol V1.1b3, section 6); 16 and 17
/// (hex) are about holding registers, as is what has no table of its own.
[[nodiscard]] constexpr modbus::Table table_of(int function) {
  switch (function) {
    case 0x01:
    case 0x05:
    case 0x0F:
      return modbus::Table::coils;
    case 0x02:
      return modbus::Table::discrete_inputs;
    case 0x04:
      return modbus::Table::input_registers;
    default:
      return modbus::Table::holding_registers;
  }
}

}  // namespace emberline::bench

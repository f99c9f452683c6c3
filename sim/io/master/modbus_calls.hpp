#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include <modbus.h>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::io {

/// Frees a libmodbus context; what it is connected to is closed elsewhere.
struct FreeModbus {
  void operator()(modbus_t* context) const { modbus_free(context); }
};
using ModbusContext = std::unique_ptr<modbus_t, FreeModbus>;

/// Why a libmodbus call failed.
struct CallFailure {
  std::optional<modbus::Refusal> refusal;  ///< the slave's exception
  int error = 0;                           ///< libmodbus's errno otherwise
};

// One request each, by libmodbus, to unit `id`; single values go out as function codes 05 and 06, several as
// 0F and 10.
[[nodiscard]] Result<std::vector<std::uint16_t>, CallFailure> read_registers(modbus_t* context, int id,
                                                                             modbus::Table table,
                                                                             modbus::AddressRange range);
[[nodiscard]] Result<std::vector<bool>, CallFailure> read_bits(modbus_t* context, int id, modbus::Table table,
                                                               modbus::AddressRange range);
[[nodiscard]] Result<Done, CallFailure> write_registers(modbus_t* context, int id, std::uint16_t first,
                                                        const std::vector<std::uint16_t>& values);
[[nodiscard]] Result<Done, CallFailure> write_bits(modbus_t* context, int id, std::uint16_t first,
                                                   const std::vector<bool>& values);

/// The whole answer has to be there within `timeout`, however its bytes are spread.
void set_answer_timeout(modbus_t* context, Duration timeout);

}  // namespace emberline::io

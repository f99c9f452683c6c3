#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <variant>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::modbus {

/// The function codes we answer (MODBUS Application Protocol V1.1b3, section 6).
enum class Function : std::uint8_t {
  read_coils = 0x01,
  read_discrete_inputs = 0x02,
  read_holding_registers = 0x03,
  read_input_registers = 0x04,
  write_single_coil = 0x05,
  write_single_register = 0x06,
  read_exception_status = 0x07,
  diagnostics = 0x08,
  get_comm_event_counter = 0x0B,
  get_comm_event_log = 0x0C,
  write_multiple_coils = 0x0F,
  write_multiple_registers = 0x10,
  report_server_id = 0x11,
  mask_write_register = 0x16,
  read_write_multiple_registers = 0x17,
  encapsulated_interface = 0x2B,  ///< its MEI type 0E, read device identification
};

/// Exception codes (Application Protocol V1.1b3, section 7).
enum class Refusal : std::uint8_t {
  illegal_function = 0x01,
  illegal_data_address = 0x02,
  illegal_data_value = 0x03,
  server_device_failure = 0x04,
  server_device_busy = 0x06,
  gateway_target_failed = 0x0B,
};

/// The most one request may ask for (Application Protocol V1.1b3, 6.1 to 6.4, 6.11, 6.12, 6.17).
inline constexpr int kReadBitsMax = 2000;
inline constexpr int kReadRegistersMax = 125;
inline constexpr int kWriteBitsMax = 1968;
inline constexpr int kWriteRegistersMax = 123;
inline constexpr int kReadWriteRegistersMax = 121;  ///< what 17 (hex) may write; it reads up to 125
/// The longest PDU (Application Protocol V1.1b3, section 4.1).
inline constexpr std::size_t kPduMax = 253;

/// The four tables of the data model.
enum class Table : std::uint8_t { coils, discrete_inputs, input_registers, holding_registers };
/// True for the tables whose addresses hold one bit each: coils and discrete inputs.
[[nodiscard]] constexpr bool carries_bits(Table table) {
  return table == Table::coils || table == Table::discrete_inputs;
}

/// Addresses `first` to `first + count - 1`, zero-based. `count` is at least 1; the end may lie beyond 65536.
struct AddressRange {
  std::uint16_t first;
  std::uint16_t count;
};

/// 01 and 02.
struct ReadBits {
  Function function;
  Table table;
  AddressRange range;
};
/// 03 and 04.
struct ReadRegisters {
  Function function;
  Table table;
  AddressRange range;
};
/// 05 and 0F: coils from address `first` on.
struct WriteBits {
  Function function;
  std::uint16_t first;
  std::vector<bool> values;
};
/// 06 and 10 (hex): holding registers from address `first` on.
struct WriteRegisters {
  Function function;
  std::uint16_t first;
  std::vector<std::uint16_t> values;
};
/// 16 (hex): a holding register becomes (it AND and_mask) OR (or_mask AND NOT and_mask).
struct MaskWriteRegister {
  std::uint16_t address;
  std::uint16_t and_mask;
  std::uint16_t or_mask;
};
/// 17 (hex): holding registers are written first, then others, or the same, are read.
struct ReadWriteRegisters {
  AddressRange read;
  std::uint16_t write_first;
  std::vector<std::uint16_t> values;
};
/// A request to a slave's memory that is sound in itself; whether its addresses are there is for the memory
/// to say.
using Request =
    std::variant<ReadBits, ReadRegisters, WriteBits, WriteRegisters, MaskWriteRegister, ReadWriteRegisters>;

/// Decodes a request PDU and makes the tests that come before the address: function code (01), then quantity,
/// value and byte count (03), in the order of the per-function state diagrams. A PDU with bytes missing or
/// left over is a fault of structure (03), before the address for 16 (hex) too. An empty PDU, function code 0
/// and codes from 80h, for which the standard fixes no answer, are refused as illegal functions; so are the
/// functions about the device itself, which a memory alone cannot answer (device_functions.hpp).
[[nodiscard]] Result<Request, Refusal> decode_request(ByteView pdu);

/// The addresses of one table that a request touches; a range without addresses is none.
struct Touched {
  Table table;
  AddressRange read;
  AddressRange written;
};
/// What a request reads and writes, without its values; nothing for one that decode_request refuses.
[[nodiscard]] std::optional<Touched> touched_by(ByteView pdu);

/// How many bytes the request PDU beginning with `pdu` has, as its function code implies, for our functions
/// and the others of the standard whose length can be told; nothing while the byte that tells it is missing
/// and for codes of unknown shape.
[[nodiscard]] std::optional<std::size_t> implied_request_length(ByteView pdu);

/// How many bytes the answer PDU beginning with `pdu` has: 2 for an exception; otherwise what its function
/// code, byte counts and object lengths tell, for our functions and the others of the standard. Nothing while
/// the byte that tells it is missing, for the loop-back 08/00, whose data may have any length, and for codes
/// of unknown shape.
[[nodiscard]] std::optional<std::size_t> implied_answer_length(ByteView pdu);

/// True for function codes that only read: 01 to 04.
[[nodiscard]] bool is_read(const Request& request);
/// True for the function codes that write and read nothing: 05, 06, 0F, 10 and 16 (hex). Only these may be
/// broadcast (MODBUS over Serial Line V1.02, 2.1); anything else sent to unit id 0 is not processed.
[[nodiscard]] bool may_be_broadcast(std::uint8_t function_code);
/// True for the function codes that can change coils or registers: 05, 06, 0F, 10, 16 and 17 (hex).
[[nodiscard]] bool may_change_memory(std::uint8_t function_code);

/// The memory that requests act on. Everything that can be refused is refused before anything is changed.
class DataModel {
 public:
  virtual ~DataModel() = default;
  /// The bits of a range of coils or discrete inputs, exactly range.count of them.
  virtual Result<std::vector<bool>, Refusal> read_bits(Table table, AddressRange range) = 0;
  /// The registers of a range of input or holding registers, exactly range.count of them.
  virtual Result<std::vector<std::uint16_t>, Refusal> read_registers(Table table, AddressRange range) = 0;
  /// Writes all of the coils from `first` on, or none.
  virtual Result<Done, Refusal> write_bits(std::uint16_t first, const std::vector<bool>& values) = 0;
  /// Writes all of the holding registers from `first` on, or none.
  virtual Result<Done, Refusal> write_registers(std::uint16_t first,
                                                const std::vector<std::uint16_t>& values) = 0;
};

/// Carries out a decoded request and gives the answer's PDU, an exception included. Ranges that run past
/// address 65535 are refused with 02 here, so a DataModel never sees one.
[[nodiscard]] Bytes execute(const Request& request, DataModel& data);

/// decode_request and execute in one. `function` of the exception answer is the PDU's first byte with bit 7
/// set.
[[nodiscard]] Bytes answer(ByteView pdu, DataModel& data);

/// The exception answer to a request with this function code.
[[nodiscard]] Bytes exception_pdu(std::uint8_t function, Refusal refusal);

/// The refusal an answer PDU carries, if it is an exception.
[[nodiscard]] std::optional<Refusal> refusal_of(ByteView answer_pdu);

}  // namespace emberline::modbus

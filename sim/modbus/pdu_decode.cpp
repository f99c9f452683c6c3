#include <cstddef>
#include <utility>

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {
namespace {

using Decoded = Result<Request, Refusal>;

std::uint16_t word_at(ByteView bytes, std::size_t index) {
  return static_cast<std::uint16_t>((static_cast<unsigned>(bytes[index]) << 8u) | bytes[index + 1]);
}

/// Function code, two 16-bit fields: 01 to 06.
constexpr std::size_t kSingleLength = 5;
/// Function code, address, quantity, byte count: what stands before the data of 0F and 10.
constexpr std::size_t kMultipleHead = 6;

Decoded decode_read_bits(ByteView pdu, Function function, Table table) {
  if (pdu.size() != kSingleLength) return Failure{Refusal::illegal_data_value};
  const AddressRange range{word_at(pdu, 1), word_at(pdu, 3)};
  if (range.count < 1 || range.count > kReadBitsMax) return Failure{Refusal::illegal_data_value};
  return Request{ReadBits{function, table, range}};
}

Decoded decode_read_registers(ByteView pdu, Function function, Table table) {
  if (pdu.size() != kSingleLength) return Failure{Refusal::illegal_data_value};
  const AddressRange range{word_at(pdu, 1), word_at(pdu, 3)};
  if (range.count < 1 || range.count > kReadRegistersMax) return Failure{Refusal::illegal_data_value};
  return Request{ReadRegisters{function, table, range}};
}

Decoded decode_write_coil(ByteView pdu) {
  if (pdu.size() != kSingleLength) return Failure{Refusal::illegal_data_value};
  constexpr std::uint16_t kOn = 0xFF00;
  constexpr std::uint16_t kOff = 0x0000;
  const auto value = word_at(pdu, 3);
  if (value != kOn && value != kOff) return Failure{Refusal::illegal_data_value};
  return Request{WriteBits{Function::write_single_coil, word_at(pdu, 1), {value == kOn}}};
}

Decoded decode_write_register(ByteView pdu) {
  if (pdu.size() != kSingleLength) return Failure{Refusal::illegal_data_value};
  return Request{WriteRegisters{Function::write_single_register, word_at(pdu, 1), {word_at(pdu, 3)}}};
}

/// Checks quantity, byte count and length of 0F and 10; false is a fault of structure.
bool multiple_is_sound(ByteView pdu, int quantity_max, std::size_t (*byte_count)(std::size_t quantity)) {
  if (pdu.size() < kMultipleHead) return false;
  const std::size_t quantity = word_at(pdu, 3);
  if (quantity < 1 || quantity > static_cast<std::size_t>(quantity_max)) return false;
  return pdu[5] == byte_count(quantity) && pdu.size() == kMultipleHead + pdu[5];
}

Decoded decode_write_coils(ByteView pdu) {
  const auto bytes_of_bits = [](std::size_t quantity) { return (quantity + 7) / 8; };
  if (!multiple_is_sound(pdu, kWriteBitsMax, bytes_of_bits)) return Failure{Refusal::illegal_data_value};
  std::vector<bool> values(word_at(pdu, 3));
  for (std::size_t i = 0; i < values.size(); ++i)  // the first coil is the lowest bit of the first byte
    values[i] = ((static_cast<unsigned>(pdu[kMultipleHead + i / 8]) >> (i % 8)) & 1u) != 0;
  return Request{WriteBits{Function::write_multiple_coils, word_at(pdu, 1), std::move(values)}};
}

Decoded decode_write_registers(ByteView pdu) {
  const auto bytes_of_words = [](std::size_t quantity) { return 2 * quantity; };
  if (!multiple_is_sound(pdu, kWriteRegistersMax, bytes_of_words))
    return Failure{Refusal::illegal_data_value};
  std::vector<std::uint16_t> values(word_at(pdu, 3));
  for (std::size_t i = 0; i < values.size(); ++i) values[i] = word_at(pdu, kMultipleHead + 2 * i);
  return Request{WriteRegisters{Function::write_multiple_registers, word_at(pdu, 1), std::move(values)}};
}

/// Function code, address and two masks.
Decoded decode_mask_write(ByteView pdu) {
  constexpr std::size_t kLength = 7;
  if (pdu.size() != kLength) return Failure{Refusal::illegal_data_value};
  return Request{MaskWriteRegister{word_at(pdu, 1), word_at(pdu, 3), word_at(pdu, 5)}};
}

/// Function code, two ranges, byte count and what is written into the second.
Decoded decode_read_write(ByteView pdu) {
  constexpr std::size_t kHead = 10;
  if (pdu.size() < kHead) return Failure{Refusal::illegal_data_value};
  const AddressRange read{word_at(pdu, 1), word_at(pdu, 3)};
  const std::size_t quantity = word_at(pdu, 7);
  const bool sound = read.count >= 1 && read.count <= kReadRegistersMax && quantity >= 1 &&
                     quantity <= std::size_t{kReadWriteRegistersMax} && pdu[9] == 2 * quantity &&
                     pdu.size() == kHead + 2 * quantity;
  if (!sound) return Failure{Refusal::illegal_data_value};
  std::vector<std::uint16_t> values(quantity);
  for (std::size_t i = 0; i < quantity; ++i) values[i] = word_at(pdu, kHead + 2 * i);
  return Request{ReadWriteRegisters{read, word_at(pdu, 5), std::move(values)}};
}

}  // namespace

Result<Request, Refusal> decode_request(ByteView pdu) {
  if (pdu.empty()) return Failure{Refusal::illegal_function};
  const auto function = static_cast<Function>(pdu[0]);
  switch (function) {
    case Function::read_coils:
      return decode_read_bits(pdu, function, Table::coils);
    case Function::read_discrete_inputs:
      return decode_read_bits(pdu, function, Table::discrete_inputs);
    case Function::read_holding_registers:
      return decode_read_registers(pdu, function, Table::holding_registers);
    case Function::read_input_registers:
      return decode_read_registers(pdu, function, Table::input_registers);
    case Function::write_single_coil:
      return decode_write_coil(pdu);
    case Function::write_single_register:
      return decode_write_register(pdu);
    case Function::write_multiple_coils:
      return decode_write_coils(pdu);
    case Function::write_multiple_registers:
      return decode_write_registers(pdu);
    case Function::mask_write_register:
      return decode_mask_write(pdu);
    case Function::read_write_multiple_registers:
      return decode_read_write(pdu);
    default:
      return Failure{Refusal::illegal_function};
  }
}

bool is_read(const Request& request) {
  return std::holds_alternative<ReadBits>(request) || std::holds_alternative<ReadRegisters>(request);
}

bool may_be_broadcast(std::uint8_t function_code) {
  return may_change_memory(function_code) &&
         static_cast<Function>(function_code) != Function::read_write_multiple_registers;
}

bool may_change_memory(std::uint8_t function_code) {
  switch (static_cast<Function>(function_code)) {
    case Function::write_single_coil:
    case Function::write_single_register:
    case Function::write_multiple_coils:
    case Function::write_multiple_registers:
    case Function::mask_write_register:
    case Function::read_write_multiple_registers:
      return true;
    default:
      return false;
  }
}

}  // namespace emberline::modbus

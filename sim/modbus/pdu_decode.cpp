#include <cstddef>
#include <utility>

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {
namespace {

std::uint16_t word_at(ByteView bytes, std::size_t index) {
  return static_cast<std::uint16_t>((static_cast<unsigned>(bytes[index]) << 8u) | bytes[index + 1]);
}

/// Function code, two 16-bit fields: 01 to 06.
constexpr std::size_t kSingleLength = 5;
/// Function code, address and two masks: 16.
constexpr std::size_t kMaskWriteLength = 7;
/// Function code, address, quantity, byte count: what stands before the data of 0F and 10.
constexpr std::size_t kMultipleHead = 6;

/// Function code, two ranges, byte count: what stands before the data of 17.
constexpr std::size_t kReadWriteHead = 10;
constexpr AddressRange kNone{0, 0};

bool within(std::size_t quantity, int most) {
  return quantity >= 1 && quantity <= static_cast<std::size_t>(most);
}

AddressRange range_at(ByteView pdu, std::size_t index) {
  return {word_at(pdu, index), word_at(pdu, index + 2)};
}

std::optional<Touched> read_of(ByteView pdu, Table table, int most) {
  if (pdu.size() != kSingleLength || !within(word_at(pdu, 3), most)) return std::nullopt;
  return Touched{table, range_at(pdu, 1), kNone};
}

std::optional<Touched> write_of_coil(ByteView pdu) {
  constexpr std::uint16_t kOn = 0xFF00;
  constexpr std::uint16_t kOff = 0x0000;
  if (pdu.size() != kSingleLength) return std::nullopt;
  if (const auto value = word_at(pdu, 3); value != kOn && value != kOff) return std::nullopt;
  return Touched{Table::coils, kNone, {word_at(pdu, 1), 1}};
}

/// 06 and 16, each of its own length.
std::optional<Touched> write_of_register(ByteView pdu, std::size_t length) {
  if (pdu.size() != length) return std::nullopt;
  return Touched{Table::holding_registers, kNone, {word_at(pdu, 1), 1}};
}

/// 0F and 10: quantity, byte count and length have to agree.
std::optional<Touched> write_of_many(ByteView pdu, Table table, int most) {
  if (pdu.size() < kMultipleHead) return std::nullopt;
  const std::size_t quantity = word_at(pdu, 3);
  const std::size_t bytes = carries_bits(table) ? (quantity + 7) / 8 : 2 * quantity;
  if (!within(quantity, most) || pdu[5] != bytes || pdu.size() != kMultipleHead + bytes) return std::nullopt;
  return Touched{table, kNone, range_at(pdu, 1)};
}

std::optional<Touched> read_and_write_of(ByteView pdu) {
  if (pdu.size() < kReadWriteHead) return std::nullopt;
  const std::size_t quantity = word_at(pdu, 7);
  const bool sound = within(word_at(pdu, 3), kReadRegistersMax) && within(quantity, kReadWriteRegistersMax) &&
                     pdu[9] == 2 * quantity && pdu.size() == kReadWriteHead + 2 * quantity;
  if (!sound) return std::nullopt;
  return Touched{Table::holding_registers, range_at(pdu, 1), range_at(pdu, 5)};
}

std::vector<std::uint16_t> words_at(ByteView pdu, std::size_t index, std::size_t count) {
  std::vector<std::uint16_t> values(count);
  for (std::size_t i = 0; i < count; ++i) values[i] = word_at(pdu, index + 2 * i);
  return values;
}

std::vector<bool> coils_at(ByteView pdu, std::size_t index, std::size_t count) {
  std::vector<bool> values(count);
  for (std::size_t i = 0; i < count; ++i)  // the first coil is the lowest bit of the first byte
    values[i] = ((static_cast<unsigned>(pdu[index + i / 8]) >> (i % 8)) & 1u) != 0;
  return values;
}

}  // namespace

std::optional<Touched> touched_by(ByteView pdu) {
  if (pdu.empty()) return std::nullopt;
  switch (static_cast<Function>(pdu[0])) {
    case Function::read_coils:
      return read_of(pdu, Table::coils, kReadBitsMax);
    case Function::read_discrete_inputs:
      return read_of(pdu, Table::discrete_inputs, kReadBitsMax);
    case Function::read_holding_registers:
      return read_of(pdu, Table::holding_registers, kReadRegistersMax);
    case Function::read_input_registers:
      return read_of(pdu, Table::input_registers, kReadRegistersMax);
    case Function::write_single_coil:
      return write_of_coil(pdu);
    case Function::write_single_register:
      return write_of_register(pdu, kSingleLength);
    case Function::write_multiple_coils:
      return write_of_many(pdu, Table::coils, kWriteBitsMax);
    case Function::write_multiple_registers:
      return write_of_many(pdu, Table::holding_registers, kWriteRegistersMax);
    case Function::mask_write_register:
      return write_of_register(pdu, kMaskWriteLength);
    case Function::read_write_multiple_registers:
      return read_and_write_of(pdu);
    default:
      return std::nullopt;
  }
}

Result<Request, Refusal> decode_request(ByteView pdu) {
  if (pdu.empty()) return Failure{Refusal::illegal_function};
  const auto function = static_cast<Function>(pdu[0]);
  const auto touched = touched_by(pdu);
  const auto sound = [&](auto make) -> Result<Request, Refusal> {
    if (!touched) return Failure{Refusal::illegal_data_value};
    return Request{make()};
  };
  switch (function) {
    case Function::read_coils:
    case Function::read_discrete_inputs:
      return sound([&] { return ReadBits{function, touched->table, touched->read}; });
    case Function::read_holding_registers:
    case Function::read_input_registers:
      return sound([&] { return ReadRegisters{function, touched->table, touched->read}; });
    case Function::write_single_coil:
      return sound([&] { return WriteBits{function, touched->written.first, {pdu[3] != 0}}; });
    case Function::write_single_register:
      return sound([&] { return WriteRegisters{function, touched->written.first, {word_at(pdu, 3)}}; });
    case Function::write_multiple_coils:
      return sound([&] {
        return WriteBits{function, touched->written.first,
                         coils_at(pdu, kMultipleHead, touched->written.count)};
      });
    case Function::write_multiple_registers:
      return sound([&] {
        return WriteRegisters{function, touched->written.first,
                              words_at(pdu, kMultipleHead, touched->written.count)};
      });
    case Function::mask_write_register:
      return sound([&] {
        return MaskWriteRegister{touched->written.first, word_at(pdu, 3), word_at(pdu, 5)};
      });
    case Function::read_write_multiple_registers:
      return sound([&] {
        return ReadWriteRegisters{touched->read, touched->written.first,
                                  words_at(pdu, kReadWriteHead, touched->written.count)};
      });
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

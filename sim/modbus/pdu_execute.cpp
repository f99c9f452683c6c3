#include <cassert>
#include <cstddef>

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {
namespace {

void append(Bytes& bytes, std::uint16_t word) {
  bytes.push_back(static_cast<std::uint8_t>(word >> 8u));
  bytes.push_back(static_cast<std::uint8_t>(word & 0xFFu));
}

std::uint8_t code(Function function) { return static_cast<std::uint8_t>(function); }

/// True if the last address is 65535 or less: an address never wraps to 0.
bool fits(std::uint16_t first, std::size_t count) { return std::size_t{first} + count <= 0x10000u; }

Bytes carry_out(const ReadBits& request, DataModel& data) {
  if (!fits(request.range.first, request.range.count))
    return exception_pdu(code(request.function), Refusal::illegal_data_address);
  const auto bits = data.read_bits(request.table, request.range);
  if (!bits) return exception_pdu(code(request.function), bits.error());
  assert(bits->size() == request.range.count);
  const std::size_t byte_count = (bits->size() + 7) / 8;
  Bytes pdu(2 + byte_count);  // unused high bits of the last byte stay 0
  pdu[0] = code(request.function);
  pdu[1] = static_cast<std::uint8_t>(byte_count);
  for (std::size_t i = 0; i < bits->size(); ++i) {
    if (!(*bits)[i]) continue;
    auto& byte = pdu[2 + i / 8];
    byte = static_cast<std::uint8_t>(byte | (1u << (i % 8)));
  }
  return pdu;
}

Bytes carry_out(const ReadRegisters& request, DataModel& data) {
  if (!fits(request.range.first, request.range.count))
    return exception_pdu(code(request.function), Refusal::illegal_data_address);
  const auto words = data.read_registers(request.table, request.range);
  if (!words) return exception_pdu(code(request.function), words.error());
  assert(words->size() == request.range.count);
  Bytes pdu(2 + 2 * words->size());
  pdu[0] = code(request.function);
  pdu[1] = static_cast<std::uint8_t>(2 * words->size());
  auto* next = pdu.data() + 2;
  for (const auto word : *words) {
    *next++ = static_cast<std::uint8_t>(word >> 8u);
    *next++ = static_cast<std::uint8_t>(word & 0xFFu);
  }
  return pdu;
}

/// Function code, address and one more field: the answer to every write.
Bytes written(Function function, std::uint16_t first, std::uint16_t field) {
  Bytes pdu;
  pdu.reserve(5);
  pdu.push_back(code(function));
  append(pdu, first);
  append(pdu, field);
  return pdu;
}

Bytes carry_out(const WriteBits& request, DataModel& data) {
  if (!fits(request.first, request.values.size()))
    return exception_pdu(code(request.function), Refusal::illegal_data_address);
  const auto done = data.write_bits(request.first, request.values);
  if (!done) return exception_pdu(code(request.function), done.error());
  if (request.function == Function::write_single_coil)
    return written(request.function, request.first, request.values.front() ? 0xFF00 : 0x0000);
  return written(request.function, request.first, static_cast<std::uint16_t>(request.values.size()));
}

Bytes carry_out(const WriteRegisters& request, DataModel& data) {
  if (!fits(request.first, request.values.size()))
    return exception_pdu(code(request.function), Refusal::illegal_data_address);
  const auto done = data.write_registers(request.first, request.values);
  if (!done) return exception_pdu(code(request.function), done.error());
  if (request.function == Function::write_single_register)
    return written(request.function, request.first, request.values.front());
  return written(request.function, request.first, static_cast<std::uint16_t>(request.values.size()));
}

Bytes carry_out(const MaskWriteRegister& request, DataModel& data) {
  const auto function = code(Function::mask_write_register);
  const auto before = data.read_registers(Table::holding_registers, {request.address, 1});
  if (!before) return exception_pdu(function, before.error());
  assert(before->size() == 1);
  const unsigned kept = (*before)[0] & unsigned{request.and_mask};
  const unsigned set = request.or_mask & ~unsigned{request.and_mask};
  const auto done = data.write_registers(request.address, {static_cast<std::uint16_t>(kept | set)});
  if (!done) return exception_pdu(function, done.error());
  auto pdu = written(Function::mask_write_register, request.address, request.and_mask);
  append(pdu, request.or_mask);
  return pdu;
}

Bytes carry_out(const ReadWriteRegisters& request, DataModel& data) {
  constexpr auto kFunction = Function::read_write_multiple_registers;
  const ReadRegisters read{kFunction, Table::holding_registers, request.read};
  // Both ranges are tested before anything is written, the one that is read first: what can be read before
  // the write can be read after it.
  if (!fits(request.read.first, request.read.count) || !fits(request.write_first, request.values.size()))
    return exception_pdu(code(kFunction), Refusal::illegal_data_address);
  auto before = carry_out(read, data);
  if (refusal_of(before)) return before;
  const auto done = data.write_registers(request.write_first, request.values);
  if (!done) return exception_pdu(code(kFunction), done.error());
  return carry_out(read, data);
}

}  // namespace

Bytes execute(const Request& request, DataModel& data) {
  return std::visit([&data](const auto& kind) { return carry_out(kind, data); }, request);
}

Bytes answer(ByteView pdu, DataModel& data) {
  const auto request = decode_request(pdu);
  if (request) return execute(*request, data);
  return exception_pdu(pdu.empty() ? std::uint8_t{0} : pdu[0], request.error());
}

Bytes exception_pdu(std::uint8_t function, Refusal refusal) {
  return {static_cast<std::uint8_t>(function | 0x80u), static_cast<std::uint8_t>(refusal)};
}

std::optional<Refusal> refusal_of(ByteView answer_pdu) {
  if (answer_pdu.size() != 2 || (answer_pdu[0] & 0x80u) == 0) return std::nullopt;
  return static_cast<Refusal>(answer_pdu[1]);
}

}  // namespace emberline::modbus

#include "sim/io/master/modbus_calls.hpp"

#include <algorithm>
#include <cerrno>

namespace emberline::io {

namespace {

/// libmodbus gives exceptions as errno values above MODBUS_ENOBASE, its own complaints above those.
CallFailure failure_of(int error) {
  const int code = error - MODBUS_ENOBASE;
  if (code > 0 && code < MODBUS_EXCEPTION_MAX) return {static_cast<modbus::Refusal>(code), error};
  return {std::nullopt, error};
}

bool address_unit(modbus_t* context, int id) { return modbus_set_slave(context, id) == 0; }

}  // namespace

Result<std::vector<std::uint16_t>, CallFailure> read_registers(modbus_t* context, int id, modbus::Table table,
                                                               modbus::AddressRange range) {
  if (!address_unit(context, id)) return Failure{failure_of(errno)};
  std::vector<std::uint16_t> words(range.count);
  const int got = table == modbus::Table::input_registers
                      ? modbus_read_input_registers(context, range.first, range.count, words.data())
                      : modbus_read_registers(context, range.first, range.count, words.data());
  if (got != range.count) return Failure{failure_of(errno)};
  return words;
}

Result<std::vector<bool>, CallFailure> read_bits(modbus_t* context, int id, modbus::Table table,
                                                 modbus::AddressRange range) {
  if (!address_unit(context, id)) return Failure{failure_of(errno)};
  std::vector<std::uint8_t> bits(range.count);
  const int got = table == modbus::Table::discrete_inputs
                      ? modbus_read_input_bits(context, range.first, range.count, bits.data())
                      : modbus_read_bits(context, range.first, range.count, bits.data());
  if (got != range.count) return Failure{failure_of(errno)};
  std::vector<bool> values(bits.size());
  std::transform(bits.begin(), bits.end(), values.begin(), [](std::uint8_t bit) { return bit != 0; });
  return values;
}

Result<Done, CallFailure> write_registers(modbus_t* context, int id, std::uint16_t first,
                                          const std::vector<std::uint16_t>& values) {
  if (!address_unit(context, id)) return Failure{failure_of(errno)};
  const int count = static_cast<int>(values.size());
  const int done = count == 1 ? modbus_write_register(context, first, values.front())
                              : modbus_write_registers(context, first, count, values.data());
  if (done != count) return Failure{failure_of(errno)};
  return Done{};
}

Result<Done, CallFailure> write_bits(modbus_t* context, int id, std::uint16_t first,
                                     const std::vector<bool>& values) {
  if (!address_unit(context, id)) return Failure{failure_of(errno)};
  const int count = static_cast<int>(values.size());
  const std::vector<std::uint8_t> bits(values.begin(), values.end());
  const int done = count == 1 ? modbus_write_bit(context, first, bits.front())
                              : modbus_write_bits(context, first, count, bits.data());
  if (done != count) return Failure{failure_of(errno)};
  return Done{};
}

void set_answer_timeout(modbus_t* context, Duration timeout) {
  // libmodbus takes no zero: the least it can wait is a microsecond.
  const auto us = std::max<std::int64_t>(1, std::chrono::ceil<std::chrono::microseconds>(timeout).count());
  modbus_set_response_timeout(context, static_cast<std::uint32_t>(us / 1'000'000),
                              static_cast<std::uint32_t>(us % 1'000'000));
  modbus_set_byte_timeout(context, 0, 0);  // no time-out of its own between bytes
}

}  // namespace emberline::io

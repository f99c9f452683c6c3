#include "sim/io/tables/table_words.hpp"

namespace emberline::io {

std::string_view word_of(registers::Access access) {
  switch (access) {
    case registers::Access::read_only:
      return "read-only";
    case registers::Access::read_write:
      return "read-write";
    case registers::Access::write_only:
      return "write-only";
  }
  return "";
}

std::string_view word_of(registers::OutOfRange out_of_range) {
  switch (out_of_range) {
    case registers::OutOfRange::exception_03:
      return "exception-03";
    case registers::OutOfRange::exception_04:
      return "exception-04";
    case registers::OutOfRange::clamp:
      return "clamp";
    case registers::OutOfRange::ignore:
      return "ignore";
  }
  return "";
}

std::string_view word_of(registers::WordOrder order) {
  return order == registers::WordOrder::high_first ? "high-first" : "low-first";
}

std::string_view word_of(registers::ByteOrder order) {
  return order == registers::ByteOrder::high_first ? "high-first" : "low-first";
}

std::string_view word_of(modbus::Table table) {
  switch (table) {
    case modbus::Table::coils:
      return "coils";
    case modbus::Table::discrete_inputs:
      return "discrete";
    case modbus::Table::input_registers:
      return "input";
    case modbus::Table::holding_registers:
      return "holding";
  }
  return "";
}

}  // namespace emberline::io

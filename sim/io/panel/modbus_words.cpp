#include "sim/io/panel/pdu_words.hpp"

namespace emberline::io {

// MODBUS Application Protocol V1.1b3, section 5.1 and 6.
std::string function_words(std::uint8_t function) {
  switch (function) {
    case 0x01:
      return "read coils";
    case 0x02:
      return "read discrete inputs";
    case 0x03:
      return "read holding registers";
    case 0x04:
      return "read input registers";
    case 0x05:
      return "write a single coil";
    case 0x06:
      return "write a single register";
    case 0x07:
      return "read the exception status";
    case 0x08:
      return "diagnostics";
    case 0x0B:
      return "get the communication event counter";
    case 0x0C:
      return "get the communication event log";
    case 0x0F:
      return "write several coils";
    case 0x10:
      return "write several registers";
    case 0x11:
      return "report the server's id";
    case 0x14:
      return "read a file record";
    case 0x15:
      return "write a file record";
    case 0x16:
      return "write single bits of a register";
    case 0x17:
      return "write and read several registers";
    case 0x18:
      return "read a queue";
    case 0x2B:
      return "encapsulated interface";
    default:
      return {};
  }
}

// Section 7 of the same.
std::string exception_words(std::uint8_t code) {
  switch (code) {
    case 0x01:
      return "illegal function: the slave does not have this function";
    case 0x02:
      return "illegal data address: an address that was asked for is not there";
    case 0x03:
      return "illegal data value: a quantity or a value that the slave does not take";
    case 0x04:
      return "server device failure: it could not do what was asked";
    case 0x05:
      return "acknowledge: it takes long, ask again later";
    case 0x06:
      return "server device busy: it does not take up anything now, ask again later";
    case 0x08:
      return "memory parity error";
    case 0x0A:
      return "gateway path unavailable: the gateway knows no way there";
    case 0x0B:
      return "gateway target failed to respond: nobody behind the gateway answers to this id";
    default:
      return "a code that the standard does not have";
  }
}

}  // namespace emberline::io

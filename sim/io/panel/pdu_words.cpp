#include "sim/io/panel/pdu_words.hpp"

#include "sim/io/panel/pdu_cursor.hpp"
#include "sim/registers/address.hpp"

namespace emberline::io {
namespace {

using modbus::ByteView;
using modbus::Table;

/// What a request is about, as its fields are taken.
struct Asked {
  Table table = Table::holding_registers;
  std::uint16_t first = 0;
  std::uint16_t count = 0;
};

Table table_of(std::uint8_t function) {
  switch (function) {
    case 0x01:
    case 0x05:
    case 0x0F:
      return Table::coils;
    case 0x02:
      return Table::discrete_inputs;
    case 0x04:
      return Table::input_registers;
    default:
      return Table::holding_registers;
  }
}

std::string things(Table table, std::size_t count) {
  std::string text = std::to_string(count);
  switch (table) {
    case Table::coils:
      text += " coil";
      break;
    case Table::discrete_inputs:
      text += " discrete input";
      break;
    case Table::input_registers:
      text += " input register";
      break;
    case Table::holding_registers:
      text += " holding register";
      break;
  }
  return text + (count == 1 ? "" : "s");
}

/// "soak-heater", for the middle of a sentence.
std::string whom(const SlaveView& slave) {
  if (slave.everybody || slave.has_table()) return slave.name();
  return slave.name() + ", which nobody has,";
}

std::uint16_t take_address(PduCursor& pdu, Table table, const char* name) {
  const auto address = pdu.word(name);
  if (pdu.whole()) pdu.means(registers::both_ways(address, table));
  return address;
}

/// ": load_current_l1, state"; empty where nobody knows what stands there.
std::string names_at(const SlaveView& slave, const Asked& asked) {
  if (!slave.has_table()) return {};
  const auto names = listed_pieces(pieces_at(slave, asked.table, asked.first, asked.count));
  return names.empty() ? names : ": " + names;
}

/// How many one request may read, or write (MODBUS Application Protocol V1.1b3, 6.1 to 6.4, 6.11, 6.12 and
/// 6.17).
int most_read(Table table) { return carries_bits(table) ? modbus::kReadBitsMax : modbus::kReadRegistersMax; }
int most_written(std::uint8_t function) {
  if (function == 0x0F) return modbus::kWriteBitsMax;
  return function == 0x17 ? modbus::kReadWriteRegistersMax : modbus::kWriteRegistersMax;
}

Asked take_range(PduCursor& pdu, const SlaveView& slave, Table table, const char* address,
                 const char* quantity, int most, const char* verb = "ask for") {
  Asked asked{table, take_address(pdu, table, address), 0};
  asked.count = pdu.word(quantity);
  if (pdu.whole())
    pdu.means(things(table, asked.count) +
              (asked.count > most ? std::string(", more than one request may ") + verb : std::string()) +
              names_at(slave, asked));
  return asked;
}

/// Takes registers or bits that are there, a field for each point.
std::vector<AddressPiece> take_values(PduCursor& pdu, const SlaveView& slave, const Asked& asked,
                                      std::size_t bytes) {
  const auto held = pdu.left().first(std::min(bytes, pdu.left().size()));
  if (carries_bits(asked.table)) {
    auto pieces = pieces_at(slave, asked.table, asked.first, asked.count, bits_in(held, asked.count));
    (void)pdu.take(bytes, "values", listed_pieces(pieces));
    return pieces;
  }
  const auto words = registers_in(held);
  auto pieces = pieces_at(slave, asked.table, asked.first, words.size(), words);
  for (const auto& piece : pieces) {
    std::string means = piece.value;
    if (!piece.meaning.empty()) means += ": " + piece.meaning;
    (void)pdu.take(2 * piece.count, piece.name, means);
  }
  if (2 * words.size() < bytes) (void)pdu.take(bytes - 2 * words.size(), "rest");
  return pieces;
}

void read_single_coil(PduCursor& pdu, const SlaveView& slave, FrameWords& words, const std::string& verb) {
  const auto address = take_address(pdu, Table::coils, "address");
  const auto value = pdu.word("value");
  if (!pdu.whole()) return;
  const bool sound = value == 0xFF00 || value == 0;
  pdu.means(sound ? (value != 0 ? "on" : "off") : "neither on (FF 00) nor off (00 00)");
  const std::uint16_t bit = value == 0xFF00 ? 1 : 0;
  const auto pieces = pieces_at(slave, Table::coils, address, 1, std::span(&bit, 1));
  words.says = verb + set_pieces(slave, Table::coils, address, pieces);
  if (!sound) words.says = verb + "a coil, with a value that is neither on nor off";
}

void read_single_register(PduCursor& pdu, const SlaveView& slave, FrameWords& words,
                          const std::string& verb) {
  const Asked asked{Table::holding_registers, take_address(pdu, Table::holding_registers, "address"), 1};
  const auto pieces = take_values(pdu, slave, asked, 2);
  if (pdu.whole()) words.says = verb + set_pieces(slave, asked.table, asked.first, pieces);
}

void read_mask_write(PduCursor& pdu, const SlaveView& slave, FrameWords& words, const std::string& verb) {
  const auto address = take_address(pdu, Table::holding_registers, "address");
  (void)pdu.take(2, "AND mask", "bits that stay as they are");
  (void)pdu.take(2, "OR mask", "what the other bits become");
  words.says = verb + "some bits of " +
               set_pieces(slave, Table::holding_registers, address,
                          pieces_at(slave, Table::holding_registers, address, 1));
}

std::string diagnostics_words(std::uint16_t sub_function) {
  switch (sub_function) {
    case 0x00:
      return "send this back";
    case 0x01:
      return "restart communications";
    case 0x02:
      return "diagnostic register";
    case 0x04:
      return "listen only";
    case 0x0A:
      return "clear the counters";
    case 0x0B:
      return "messages on the bus";
    case 0x0C:
      return "communication errors on the bus";
    case 0x0D:
      return "exceptions answered";
    case 0x0E:
      return "messages for this slave";
    case 0x0F:
      return "messages without an answer";
    case 0x10:
      return "NAK answers";
    case 0x11:
      return "busy answers";
    case 0x12:
      return "character overruns";
    default:
      return "sub-function " + std::to_string(sub_function);
  }
}

void read_diagnostics(PduCursor& pdu, FrameWords& words, const std::string& verb) {
  const auto sub_function = pdu.word("sub-function");
  const auto what = diagnostics_words(sub_function);
  if (pdu.whole()) pdu.means(what);
  pdu.rest("data");
  words.says = verb + "diagnostics: " + what;
}

void read_identification_request(PduCursor& pdu, FrameWords& words, const std::string& who) {
  const auto mei = pdu.byte("kind");
  if (mei == 0x0E) {
    pdu.means("read device identification");
    (void)pdu.byte("which objects");
    (void)pdu.byte("from object");
    words.says = "asks " + who + " what it is";
  } else {
    pdu.rest("data");
    words.says = "sends " + who + " an encapsulated request of kind " + std::to_string(mei);
  }
}

/// 0F and 10, and the write half of 17 (hex): what is set.
std::string read_multiple(PduCursor& pdu, const SlaveView& slave, std::uint8_t function, FrameWords& words) {
  const Table table = table_of(function);
  const Asked asked =
      take_range(pdu, slave, table, "first address", "quantity", most_written(function), "write");
  const std::size_t bytes = pdu.byte("bytes that follow");
  const auto pieces = take_values(pdu, slave, asked, bytes);
  const std::size_t needed = carries_bits(table) ? (asked.count + 7U) / 8U : 2U * asked.count;
  if (pdu.whole() && bytes != needed)
    words.trouble = "its byte count, " + std::to_string(bytes) +
                    ", contradicts its quantity: " + things(table, asked.count) + " take" +
                    (asked.count == 1 ? "s " : " ") + std::to_string(needed);
  if (pieces.empty()) return things(table, asked.count) + " from " + registers::both_ways(asked.first, table);
  return set_pieces(slave, table, asked.first, pieces);
}

/// The function of a request in words, whatever it is.
std::string any_function_words(std::uint8_t function) {
  auto name = function_words(function);
  if (!name.empty()) return name;
  name = "function " + std::to_string(function) + ", which ";
  return name + (function >= 0x80 ? "the standard keeps for refusals" : "the standard does not have");
}

void take_left_over(PduCursor& pdu, FrameWords& words) {
  if (pdu.left().empty()) return;
  pdu.rest("left over");
  if (!words.trouble) words.trouble = "broken: longer than its function says";
}

bool about_device_without_data(std::uint8_t function) {
  return function == 0x07 || function == 0x0B || function == 0x0C || function == 0x11;
}

}  // namespace

void read_request_pdu(const SlaveView& slave, ByteView bytes, FrameWords& words) {
  PduCursor pdu(bytes, words);
  const auto function = pdu.byte("function");
  const auto name = any_function_words(function);
  const auto who = whom(slave);
  if (!bytes.empty()) pdu.means(name);
  const Table table = table_of(function);
  if (function >= 0x01 && function <= 0x04) {
    const Asked asked = take_range(pdu, slave, table, "first address", "quantity", most_read(table));
    words.says = "asks " + who + " for " + things(table, asked.count) + " from address " +
                 registers::both_ways(asked.first, table) + names_at(slave, asked);
  } else if (function == 0x05) {
    read_single_coil(pdu, slave, words, "tells " + who + " to set ");
  } else if (function == 0x06) {
    read_single_register(pdu, slave, words, "tells " + who + " to set ");
  } else if (function == 0x0F || function == 0x10) {
    words.says = "tells " + who + " to set " + read_multiple(pdu, slave, function, words);
  } else if (function == 0x16) {
    read_mask_write(pdu, slave, words, "tells " + who + " to set ");
  } else if (function == 0x17) {
    const Asked read =
        take_range(pdu, slave, table, "first address to read", "quantity to read", most_read(table));
    const auto written = read_multiple(pdu, slave, function, words);
    words.says = "tells " + who + " to set " + written + ", and asks for " + things(table, read.count) +
                 " from address " + registers::both_ways(read.first, table) + names_at(slave, read);
  } else if (function == 0x08) {
    read_diagnostics(pdu, words, "asks " + who + " for ");
  } else if (function == 0x2B) {
    read_identification_request(pdu, words, who);
  } else if (about_device_without_data(function)) {
    words.says = "asks " + who + ": " + name;
  } else {
    pdu.rest("data");
    words.says = "asks " + who + ": " + name;
  }
  take_left_over(pdu, words);
}

namespace {

std::string printable(ByteView bytes) {
  std::string text;
  for (const auto byte : bytes) text += byte >= 0x20 && byte < 0x7F ? static_cast<char>(byte) : '.';
  return text;
}

void read_exception(PduCursor& pdu, const SlaveView& slave, FrameWords& words) {
  const auto code = pdu.byte("exception");
  if (!pdu.whole()) return;
  const auto text = exception_words(code);
  pdu.means(text);
  constexpr const char* kDigits = "0123456789ABCDEF";
  const std::string number{kDigits[code >> 4U], kDigits[code & 15U]};
  words.says = slave.name() + " refuses: exception " + number + ", " + text;
  words.trouble = "exception " + number + ", " + text;
}

/// What a read asked for, so that its answer's bytes get names.
Asked asked_by(ByteView request) {
  Asked asked;
  if (request.size() < 5) return asked;
  asked.table = table_of(request[0]);
  asked.first = static_cast<std::uint16_t>(request[1] << 8U | request[2]);
  asked.count = static_cast<std::uint16_t>(request[3] << 8U | request[4]);
  return asked;
}

void read_values_answer(PduCursor& pdu, const SlaveView& slave, std::uint8_t function, ByteView request,
                        FrameWords& words) {
  const auto bytes = pdu.byte("bytes that follow");
  Asked asked = asked_by(request);
  const bool known = !request.empty() && request[0] == function;
  asked.table = table_of(function);
  if (!known) {
    words.says = slave.name() + " answers with " + std::to_string(bytes) +
                 " bytes of values; which they are, only the request tells";
    (void)pdu.take(bytes, "values", "which they are, only the request tells");
    return;
  }
  words.says = slave.name() + " answers: " + listed_pieces(take_values(pdu, slave, asked, bytes));
}

void read_device_answer(PduCursor& pdu, const SlaveView& slave, std::uint8_t function, FrameWords& words) {
  words.says = slave.name() + " answers: " + any_function_words(function);
  if (function == 0x07) {
    (void)pdu.byte("status");
  } else if (function == 0x0B) {
    (void)pdu.word("status");
    (void)pdu.word("events");
  } else if (function == 0x11) {
    const auto bytes = pdu.byte("bytes that follow");
    const auto data = pdu.left().first(std::min<std::size_t>(bytes, pdu.left().size()));
    (void)pdu.take(bytes, "data", printable(data));
  } else if (function == 0x2B) {
    pdu.rest("identification", printable(pdu.left()));
  } else {
    pdu.rest("data");
  }
}

}  // namespace

void read_answer_pdu(const SlaveView& slave, ByteView bytes, ByteView request, FrameWords& words) {
  constexpr std::uint8_t kException = 0x80;
  PduCursor pdu(bytes, words);
  const auto function = pdu.byte("function");
  // A request may have the highest bit itself, and gets its own function back.
  const bool as_asked = !request.empty() && request[0] == function;
  const auto asked_function = as_asked ? function : static_cast<std::uint8_t>(function & ~kException);
  const auto name = any_function_words(asked_function);
  if (!bytes.empty()) pdu.means((function & kException) != 0 ? "refuses: " + name : name);
  if ((function & kException) != 0) {
    read_exception(pdu, slave, words);
  } else if ((function >= 0x01 && function <= 0x04) || function == 0x17) {
    read_values_answer(pdu, slave, function, request, words);
  } else if (function == 0x05) {
    read_single_coil(pdu, slave, words, slave.name() + " has set ");
  } else if (function == 0x06) {
    read_single_register(pdu, slave, words, slave.name() + " has set ");
  } else if (function == 0x0F || function == 0x10) {
    const Asked asked = take_range(pdu, slave, table_of(function), "first address", "quantity",
                                   most_written(function), "write");
    const auto pieces = pieces_at(slave, asked.table, asked.first, asked.count);
    words.says = slave.name() + " has set " + things(asked.table, asked.count) + ": " +
                 set_pieces(slave, asked.table, asked.first, pieces);
  } else if (function == 0x16) {
    read_mask_write(pdu, slave, words, slave.name() + " has set ");
  } else if (function == 0x08) {
    read_diagnostics(pdu, words, slave.name() + " answers ");
  } else {
    read_device_answer(pdu, slave, function, words);
  }
  take_left_over(pdu, words);
}

}  // namespace emberline::io

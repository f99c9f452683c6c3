#include "sim/modbus/pdu.hpp"

#include <numeric>

#include <doctest/doctest.h>

#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/memory.hpp"

namespace emberline::modbus {
namespace {

using test::hex;
using test::Memory;
using test::to_hex;

TEST_CASE("a known function with bytes missing or left over is a fault of structure and changes nothing") {
  for (const auto* pdu :
       {"01 00 00 00 01", "02 00 00 00 01", "03 00 00 00 01", "04 00 00 00 01", "05 00 00 FF 00",
        "06 00 00 00 01", "0F 00 00 00 01 01 01", "10 00 00 00 01 02 00 01", "16 00 00 00 F2 00 25",
        "17 00 00 00 01 00 01 00 01 02 00 01"}) {
    auto bytes = hex(pdu);
    CAPTURE(pdu);
    Memory memory(100);
    CHECK_FALSE(refusal_of(answer(bytes, memory)).has_value());
    memory.changes = 0;
    for (std::size_t size = 1; size < bytes.size(); ++size) {
      CAPTURE(size);
      CHECK(refusal_of(answer(ByteView(bytes).first(size), memory)) == Refusal::illegal_data_value);
    }
    bytes.push_back(0);
    CHECK(refusal_of(answer(bytes, memory)) == Refusal::illegal_data_value);
    CHECK(memory.changes == 0);
  }
}

TEST_CASE("every function code that a memory cannot answer is refused with 01, its own code and bit 7") {
  Memory memory(100);
  for (unsigned code = 0; code <= 255; ++code) {
    const bool ours =
        (code >= 1 && code <= 6) || code == 0x0F || code == 0x10 || code == 0x16 || code == 0x17;
    if (ours) continue;
    CAPTURE(code);
    const Bytes pdu = {static_cast<std::uint8_t>(code), 0x00, 0x00, 0x00, 0x01};
    const Bytes expected = {static_cast<std::uint8_t>(code | 0x80u), 0x01};
    CHECK(to_hex(answer(pdu, memory)) == to_hex(expected));
  }
  CHECK(to_hex(answer({}, memory)) == "80 01");
  CHECK(memory.changes == 0);
}

TEST_CASE("a range past address 65535 is refused before the memory is asked") {
  class Untouchable : public DataModel {
   public:
    Result<std::vector<bool>, Refusal> read_bits(Table, AddressRange) override { return touched(); }
    Result<std::vector<std::uint16_t>, Refusal> read_registers(Table, AddressRange) override {
      return touched();
    }
    Result<Done, Refusal> write_bits(std::uint16_t, const std::vector<bool>&) override { return touched(); }
    Result<Done, Refusal> write_registers(std::uint16_t, const std::vector<std::uint16_t>&) override {
      return touched();
    }
    Failure<Refusal> touched() {
      FAIL("the memory was asked");
      return Failure{Refusal::server_device_failure};
    }
  } memory;
  for (const auto* pdu :
       {"01 FF FF 00 02", "02 FF F0 00 11", "03 FF FF 00 02", "04 FF FE 00 03", "0F FF FF 00 02 01 03",
        "10 FF FF 00 02 04 00 01 00 02", "17 FF FF 00 02 00 00 00 01 02 00 01",
        "17 00 00 00 01 FF FF 00 02 04 00 01 00 02"}) {
    CAPTURE(pdu);
    CHECK(refusal_of(answer(hex(pdu), memory)) == Refusal::illegal_data_address);
  }
}

TEST_CASE("the last addresses of all can be read and written") {
  Memory memory(0x10000);
  CHECK(to_hex(answer(hex("06 FF FF 12 34"), memory)) == "06 FF FF 12 34");
  CHECK(to_hex(answer(hex("03 FF FF 00 01"), memory)) == "03 02 12 34");
  CHECK(to_hex(answer(hex("0F FF F8 00 08 01 81"), memory)) == "0F FF F8 00 08");
  CHECK(to_hex(answer(hex("01 FF F8 00 08"), memory)) == "01 01 81");
  CHECK(to_hex(answer(hex("16 FF FF 0F 0F A0 A0"), memory)) == "16 FF FF 0F 0F A0 A0");
  CHECK(to_hex(answer(hex("17 FF FF 00 01 FF FE 00 02 04 00 05 00 06"), memory)) == "17 02 00 06");
}

TEST_CASE("a refusal of the memory reaches the master with its number") {
  class Refusing : public Memory {
   public:
    Refusing() : Memory(10) {}
    Result<Done, Refusal> write_registers(std::uint16_t, const std::vector<std::uint16_t>&) override {
      return Failure{Refusal::server_device_failure};
    }
  } memory;
  CHECK(to_hex(answer(hex("06 00 01 00 03"), memory)) == "86 04");
  CHECK(to_hex(answer(hex("10 00 01 00 01 02 00 03"), memory)) == "90 04");
  CHECK(to_hex(answer(hex("16 00 01 00 00 00 03"), memory)) == "96 04");
  CHECK(to_hex(answer(hex("17 00 01 00 01 00 01 00 01 02 00 03"), memory)) == "97 04");
}

TEST_CASE("a block of any size is read as it was written") {
  for (int count = 1; count <= kWriteRegistersMax; ++count) {
    Memory memory(200);
    std::vector<std::uint16_t> values(static_cast<std::size_t>(count));
    std::iota(values.begin(), values.end(), std::uint16_t{0x1200});
    const auto size = static_cast<std::uint16_t>(count);
    (void)execute(WriteRegisters{Function::write_multiple_registers, 7, values}, memory);
    const auto reply =
        execute(ReadRegisters{Function::read_holding_registers, Table::holding_registers, {7, size}}, memory);
    REQUIRE(reply.size() == 2 + 2 * values.size());
    CHECK(reply[1] == 2 * count);
    for (std::size_t i = 0; i < values.size(); ++i)
      CHECK(((reply[2 + 2 * i] << 8) | reply[3 + 2 * i]) == values[i]);
  }
}

TEST_CASE("only 01 to 04 read and nothing else") {
  for (const auto* pdu : {"01 00 00 00 01", "02 00 00 00 01", "03 00 00 00 01", "04 00 00 00 01"})
    CHECK(is_read(*decode_request(hex(pdu))));
  for (const auto* pdu :
       {"05 00 00 FF 00", "06 00 00 00 01", "0F 00 00 00 01 01 01", "10 00 00 00 01 02 00 01",
        "16 00 00 00 F2 00 25", "17 00 00 00 01 00 01 00 01 02 00 01"})
    CHECK_FALSE(is_read(*decode_request(hex(pdu))));
}

TEST_CASE("only functions that write and read nothing may be broadcast; 17 writes too") {
  // MODBUS Application Protocol V1.1b3, 6.5, 6.6, 6.11, 6.12, 6.16, 6.17; Serial Line V1.02, 2.1.
  for (int code = 0; code < 256; ++code) {
    CAPTURE(code);
    const bool only_writes = code == 0x05 || code == 0x06 || code == 0x0F || code == 0x10 || code == 0x16;
    CHECK(may_be_broadcast(static_cast<std::uint8_t>(code)) == only_writes);
    CHECK(may_change_memory(static_cast<std::uint8_t>(code)) == (only_writes || code == 0x17));
  }
}

TEST_CASE("17 gives what its own write has put there, and one register may be in both ranges") {
  // MODBUS Application Protocol V1.1b3, 6.17: the write operation is performed before the read.
  Memory memory(100);
  CHECK(to_hex(answer(hex("17 00 00 00 03 00 01 00 02 04 12 34 56 78"), memory)) ==
        "17 06 00 00 12 34 56 78");
  CHECK(memory.changes == 1);
}

TEST_CASE("a mask write follows its formula for every bit and every pair of masks") {
  // MODBUS Application Protocol V1.1b3, 6.16: (current AND and_mask) OR (or_mask AND (NOT and_mask)), bit by
  // bit.
  const std::uint16_t patterns[] = {0x0000, 0xFFFF, 0x0012, 0x00F2, 0x0025, 0xA5A5, 0x8001};
  for (const auto current : patterns)
    for (const auto and_mask : patterns)
      for (const auto or_mask : patterns) {
        Memory memory(1);
        auto& word = memory.words[static_cast<std::size_t>(Table::holding_registers)][0];
        word = current;
        (void)execute(MaskWriteRegister{0, and_mask, or_mask}, memory);
        for (unsigned bit = 0; bit < 16; ++bit) {
          const auto of = [bit](unsigned value) { return (value >> bit) & 1u; };
          CHECK(of(word) == (of(and_mask) != 0 ? of(current) : of(or_mask)));
        }
      }
}

TEST_CASE("coils and discrete inputs carry bits, registers do not") {
  // MODBUS Application Protocol V1.1b3, 4.3: single bits and 16-bit words.
  CHECK(carries_bits(Table::coils));
  CHECK(carries_bits(Table::discrete_inputs));
  CHECK_FALSE(carries_bits(Table::input_registers));
  CHECK_FALSE(carries_bits(Table::holding_registers));
}

TEST_CASE("an answer is taken for an exception only if it is one") {
  CHECK(refusal_of(hex("83 02")) == Refusal::illegal_data_address);
  CHECK(refusal_of(hex("90 0B")) == Refusal::gateway_target_failed);
  CHECK_FALSE(refusal_of(hex("03 02 00 01")).has_value());
  CHECK_FALSE(refusal_of(hex("83")).has_value());
  CHECK_FALSE(refusal_of({}).has_value());
  CHECK(exception_pdu(0x03, Refusal::server_device_busy) == hex("83 06"));
}

// The requests are the examples of MODBUS Application Protocol V1.1b3, 6.1 to 6.17.
TEST_CASE(
    "what a request reads and writes is not what its bytes say, or a broken one is said to touch something") {
  struct Example {
    Bytes pdu;
    Table table;
    AddressRange read;
    AddressRange written;
  };
  const Example examples[] = {
      {hex("01 00 13 00 13"), Table::coils, {0x13, 19}, {0, 0}},
      {hex("02 00 C4 00 16"), Table::discrete_inputs, {0xC4, 22}, {0, 0}},
      {hex("03 00 6B 00 03"), Table::holding_registers, {0x6B, 3}, {0, 0}},
      {hex("04 00 08 00 01"), Table::input_registers, {0x08, 1}, {0, 0}},
      {hex("05 00 AC FF 00"), Table::coils, {0, 0}, {0xAC, 1}},
      {hex("06 00 01 00 03"), Table::holding_registers, {0, 0}, {0x01, 1}},
      {hex("0F 00 13 00 0A 02 CD 01"), Table::coils, {0, 0}, {0x13, 10}},
      {hex("10 00 01 00 02 04 00 0A 01 02"), Table::holding_registers, {0, 0}, {0x01, 2}},
      {hex("16 00 04 00 F2 00 25"), Table::holding_registers, {0, 0}, {0x04, 1}},
      {hex("17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF"),
       Table::holding_registers,
       {0x03, 6},
       {0x0E, 3}},
  };
  const auto same = [](const AddressRange& a, const AddressRange& b) {
    return a.count == b.count && (a.count == 0 || a.first == b.first);
  };
  for (const auto& example : examples) {
    CAPTURE(int{example.pdu[0]});
    const auto touched = touched_by(example.pdu);
    REQUIRE(touched);
    CHECK(touched->table == example.table);
    CHECK(same(touched->read, example.read));
    CHECK(same(touched->written, example.written));
    // With a byte missing, a byte too many, or of another function it is no such request.
    auto broken = example.pdu;
    broken.push_back(0);
    CHECK_FALSE(touched_by(broken));
    broken.resize(example.pdu.size() - 1);
    CHECK_FALSE(touched_by(broken));
    broken = example.pdu;
    broken[0] = 0x65;
    CHECK_FALSE(touched_by(broken));
  }
  CHECK_FALSE(touched_by({}));
}

}  // namespace
}  // namespace emberline::modbus

// The example exchanges printed in the MODBUS Application Protocol Specification V1.1b3 (2012), section 6,
// and the CRC of MODBUS over Serial Line V1.02 (2006). The PDUs are printed there; the CRCs of the frames
// were computed from the printed procedure by a program of another language and have no printed source.
#include <chrono>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "sim/modbus/crc.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/modbus/rtu_framer.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/memory.hpp"
#include "tests/sim/modbus/outcomes.hpp"

namespace emberline::modbus {
namespace {

using namespace std::chrono_literals;
using test::all_outcomes;
using test::hex;
using test::Memory;
using test::to_hex;

/// A request or answer and its CRC, in the order of the wire, for units 1 and 17.
struct Printed {
  const char* source;
  const char* pdu;
  const char* crc_unit_01;
  const char* crc_unit_11;
};
const Printed kRequests[] = {
    {"V1.1b3, 6.1 read coils", "01 00 13 00 13", "8C 02", "8E 92"},
    {"V1.1b3, 6.2 read discrete inputs", "02 00 C4 00 16", "B8 39", "BA A9"},
    {"V1.1b3, 6.3 read holding registers", "03 00 6B 00 03", "74 17", "76 87"},
    {"V1.1b3, 6.4 read input registers", "04 00 08 00 01", "B0 08", "B2 98"},
    {"V1.1b3, 6.5 write single coil", "05 00 AC FF 00", "4C 1B", "4E 8B"},
    {"V1.1b3, 6.6 write single register", "06 00 01 00 03", "98 0B", "9A 9B"},
    {"V1.1b3, 6.7 read exception status", "07", "41 E2", "4C 22"},
    {"V1.1b3, 6.8 diagnostics", "08 00 00 A5 37", "DA 8D", "D8 1D"},
    {"V1.1b3, 6.9 get comm event counter", "0B", "41 E7", "4C 27"},
    {"V1.1b3, 6.10 get comm event log", "0C", "00 25", "0D E5"},
    {"V1.1b3, 6.11 write multiple coils", "0F 00 13 00 0A 02 CD 01", "72 CB", "BF 0B"},
    {"V1.1b3, 6.12 write multiple registers", "10 00 01 00 02 04 00 0A 01 02", "92 30", "C6 F0"},
    {"V1.1b3, 6.13 report server id", "11", "C0 2C", "CD EC"},
    {"V1.1b3, 6.14 read file record", "14 0E 06 00 04 00 01 00 02 06 00 03 00 09 00 02", "F4 FD", "F9 38"},
    {"V1.1b3, 6.15 write file record", "15 0D 06 00 04 00 07 00 03 06 AF 04 BE 10 0D", "D6 0B", "DB C7"},
    {"V1.1b3, 6.16 mask write register", "16 00 04 00 F2 00 25", "67 EE", "66 E2"},
    {"V1.1b3, 6.17 read/write multiple registers", "17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF", "46 91",
     "4B 54"},
    {"V1.1b3, 6.18 read FIFO queue", "18 04 DE", "03 47", "07 87"},
    {"V1.1b3, 6.21 read device identification", "2B 0E 01 00", "70 77", "B1 B4"},
    {"V1.1b3, section 7 example of an exception", "01 04 A1 00 01", "AD 18", "AF 88"},
};
const Printed kAnswers[] = {
    {"V1.1b3, 6.1", "01 03 CD 6B 05", "42 82", "40 12"},
    {"V1.1b3, 6.2", "02 03 AC DB 35", "22 88", "20 18"},
    {"V1.1b3, 6.3", "03 06 02 2B 00 00 00 64", "05 7A", "C8 BA"},
    {"V1.1b3, 6.4", "04 02 00 0A", "39 37", "F8 F4"},
    {"V1.1b3, 6.7", "07 6D", "E3 DD", "E2 18"},
    {"V1.1b3, 6.9", "0B FF FF 01 08", "A4 79", "A6 E9"},
    {"V1.1b3, 6.10", "0C 08 00 00 01 08 01 21 20 00", "0D C1", "59 01"},
    {"V1.1b3, 6.11", "0F 00 13 00 0A", "24 09", "26 99"},
    {"V1.1b3, 6.12", "10 00 01 00 02", "10 08", "12 98"},
    {"V1.1b3, 6.14", "14 0C 05 06 0D FE 00 20 05 06 33 CD 00 40", "79 A1", "69 AD"},
    {"V1.1b3, 6.17", "17 0C 00 FE 0A CD 00 01 00 03 00 0D 00 FF", "1D 79", "0D 75"},
    {"V1.1b3, 6.18", "18 00 06 00 02 01 B8 12 84", "19 18", "18 8D"},
    {"V1.1b3, section 7", "81 02", "C1 91", "C0 54"},
};

TEST_CASE("the CRC has the published values") {
  struct Case {
    const char* source;
    Bytes bytes;
    std::uint16_t crc;
  };
  constexpr std::string_view kCheck = "123456789";
  const Case cases[] = {
      {"Serial Line V1.02, 6.2.2, worked example", hex("02 07"), 0x1241},
      {"public catalogue of CRC algorithms, CRC-16/MODBUS, check", Bytes(kCheck.begin(), kCheck.end()),
       0x4B37},
      {"Serial Line V1.02, 6.2.2: the register starts as FFFF", {}, 0xFFFF},
  };
  for (const auto& row : cases) {
    CAPTURE(row.source);
    CHECK(crc16(row.bytes) == row.crc);
  }
}

TEST_CASE("every example of the standard gets its CRC, low byte first") {
  const auto check = [](const Printed& row) {
    CAPTURE(row.source);
    CAPTURE(row.pdu);
    CHECK(to_hex(rtu_frame(0x01, hex(row.pdu))) == "01 " + std::string(row.pdu) + " " + row.crc_unit_01);
    CHECK(to_hex(rtu_frame(0x11, hex(row.pdu))) == "11 " + std::string(row.pdu) + " " + row.crc_unit_11);
    CHECK(crc16(rtu_frame(0x01, hex(row.pdu))) == 0);  // residue of CRC-16/MODBUS
    CHECK(crc16(rtu_frame(0x11, hex(row.pdu))) == 0);
  };
  for (const auto& row : kRequests) check(row);
  for (const auto& row : kAnswers) check(row);
  CHECK(to_hex(rtu_frame(0x00, hex("06 00 01 00 03"))) == "00 06 00 01 00 03 99 DA");
  CHECK(to_hex(rtu_frame(0x01, hex("03 00 00 00 0A"))) == "01 03 00 00 00 0A C5 CD");
  CHECK(to_hex(rtu_frame(0x01, hex("03 00 00 00 1E"))) == "01 03 00 00 00 1E C5 C2");
}

TEST_CASE("one turned bit anywhere in the standard's frames is seen by the CRC") {
  for (const auto& row : kRequests) {
    const auto frame = rtu_frame(0x11, hex(row.pdu));
    for (std::size_t bit = 0; bit < frame.size() * 8; ++bit) {
      auto turned = frame;
      turned[bit / 8] = static_cast<std::uint8_t>(turned[bit / 8] ^ (1u << (bit % 8)));
      CAPTURE(row.source);
      CAPTURE(bit);
      CHECK(crc16(turned) != 0);
    }
  }
}

TEST_CASE("every request of the standard is found whole, cut anywhere, and between rubbish") {
  // Serial Line V1.02, 2.5.1: a frame is what stands between two silences.
  const RtuFramer::Timing timings[] = {
      {.inside_frame_max = 860us, .between_frames_min = 50ms},
      {.inside_frame_max = 860us, .between_frames_min = 2006us, .strict = true},
  };
  for (const auto& timing : timings) {
    for (const auto& row : kRequests) {
      CAPTURE(row.source);
      CAPTURE(timing.strict);
      const auto frame = hex("11 " + std::string(row.pdu) + " " + row.crc_unit_11);
      for (std::size_t cut = 0; cut < frame.size(); ++cut) {
        CAPTURE(cut);
        RtuFramer framer(timing);
        framer.receive(hex("AA"), SimTime{});
        framer.receive(ByteView(frame).first(cut), SimTime{} + 1s);
        framer.receive(ByteView(frame).subspan(cut), SimTime{} + 1s + 800us);
        framer.receive(hex("55 55"), SimTime{} + 2s);
        const auto outcomes = all_outcomes(framer, SimTime{} + 3s);
        REQUIRE(outcomes.size() == 3);
        CHECK(outcomes[1] == "request 17 at 1000800000: " + std::string(row.pdu));
      }
    }
  }
}

/// What the standard's text says about the device before each example.
struct Exchange {
  const char* source;
  const char* request;
  const char* answer;
  void (*prepare)(Memory& memory);
  bool changes;
};

/// Sets bits from `first` on: '1' is on, blanks are skipped, the lowest address comes first.
void set_bits(std::vector<bool>& table, std::size_t first, std::string_view states) {
  for (const char state : states)
    if (state != ' ') table[first++] = state == '1';
}
std::vector<bool>& bits_of(Memory& memory, Table table) {
  return memory.bits[static_cast<std::size_t>(table)];
}
std::vector<std::uint16_t>& words_of(Memory& memory, Table table) {
  return memory.words[static_cast<std::size_t>(table)];
}
void nothing(Memory&) {}

const Exchange kExchanges[] = {
    {"V1.1b3, 6.1: coils 20-27 are CD, 28-35 are 6B, 36-38 are 05", "01 00 13 00 13", "01 03 CD 6B 05",
     [](Memory& m) { set_bits(bits_of(m, Table::coils), 19, "10110011 11010110 101 11111"); }, false},
    {"V1.1b3, 6.2: inputs 197-204 are AC, 205-212 are DB, 213-218 are 35", "02 00 C4 00 16", "02 03 AC DB 35",
     [](Memory& m) { set_bits(bits_of(m, Table::discrete_inputs), 196, "00110101 11011011 101011 11"); },
     false},
    {"V1.1b3, 6.3: registers 108-110 are 555, 0, 100", "03 00 6B 00 03", "03 06 02 2B 00 00 00 64",
     [](Memory& m) {
       words_of(m, Table::holding_registers)[107] = 555;
       words_of(m, Table::holding_registers)[109] = 100;
     },
     false},
    {"V1.1b3, 6.4: input register 9 is 10", "04 00 08 00 01", "04 02 00 0A",
     [](Memory& m) { words_of(m, Table::input_registers)[8] = 10; }, false},
    {"V1.1b3, 6.5: coil 173 on", "05 00 AC FF 00", "05 00 AC FF 00", nothing, true},
    {"V1.1b3, 6.6: register 2 := 3", "06 00 01 00 03", "06 00 01 00 03", nothing, true},
    {"V1.1b3, 6.11: coils 20-29 := CD 01", "0F 00 13 00 0A 02 CD 01", "0F 00 13 00 0A", nothing, true},
    {"V1.1b3, 6.12: registers 2, 3 := 000A, 0102", "10 00 01 00 02 04 00 0A 01 02", "10 00 01 00 02", nothing,
     true},
    {"V1.1b3, 6.16: register 5 is 12, masks F2 and 25", "16 00 04 00 F2 00 25", "16 00 04 00 F2 00 25",
     [](Memory& m) { words_of(m, Table::holding_registers)[4] = 0x0012; }, true},
    {"V1.1b3, 6.17: six registers from 4 on, three written from 15 on",
     "17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF", "17 0C 00 FE 0A CD 00 01 00 03 00 0D 00 FF",
     [](Memory& m) {
       std::size_t address = 3;
       for (const auto value : {0x00FE, 0x0ACD, 0x0001, 0x0003, 0x000D, 0x00FF})
         words_of(m, Table::holding_registers)[address++] = static_cast<std::uint16_t>(value);
     },
     true},
    {"V1.1b3, section 7: no coil 1186", "01 04 A1 00 01", "81 02", nothing, false},
};

TEST_CASE("the examples of the standard get the standard's answers") {
  for (const auto& row : kExchanges) {
    CAPTURE(row.source);
    Memory memory(512);
    row.prepare(memory);
    CHECK(to_hex(answer(hex(row.request), memory)) == row.answer);
    CHECK(memory.changes == (row.changes ? 1 : 0));
  }
}

TEST_CASE("the writes of the standard's examples put what they say where they say") {
  Memory memory(512);
  const auto& coils = bits_of(memory, Table::coils);
  auto& registers = words_of(memory, Table::holding_registers);
  (void)answer(hex("05 00 AC FF 00"), memory);  // V1.1b3, 6.5: coil 173
  CHECK(coils[172]);
  (void)answer(hex("05 00 AC 00 00"), memory);
  CHECK_FALSE(coils[172]);
  (void)answer(hex("06 00 01 00 03"), memory);  // V1.1b3, 6.6: register 2
  CHECK(registers[1] == 3);
  (void)answer(hex("10 00 01 00 02 04 00 0A 01 02"), memory);  // V1.1b3, 6.12: registers 2 and 3
  CHECK(registers[1] == 0x000A);
  CHECK(registers[2] == 0x0102);
  registers[4] = 0x0012;
  (void)answer(hex("16 00 04 00 F2 00 25"), memory);  // V1.1b3, 6.16: 12 becomes 17
  CHECK(registers[4] == 0x0017);
  (void)answer(hex("17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF"), memory);  // V1.1b3, 6.17: 15 to 17
  for (const std::size_t address : {14u, 15u, 16u}) CHECK(registers[address] == 0x00FF);
  (void)answer(hex("0F 00 13 00 0A 02 CD 01"),
               memory);  // V1.1b3, 6.11: coils 27-20 are 1100 1101, 29-28 are 01
  const std::vector<bool> expected = {true, false, true, true, false, false, true, true, true, false};
  CHECK(std::vector<bool>(coils.begin() + 19, coils.begin() + 29) == expected);
  CHECK_FALSE(coils[18]);
  CHECK_FALSE(coils[29]);
}

}  // namespace
}  // namespace emberline::modbus

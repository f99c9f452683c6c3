#include "sim/io/panel/frame_words.hpp"

#include <memory>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "sim/bench/bench_spec.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "tests/sim/io/line/running.hpp"

using namespace emberline;

namespace {

/// north (id 1) and south (id 2) on field and ethernet, block marshalling (id 20) on ethernet.
const bench::BenchSpec& spec() {
  static const bench::BenchSpec the_spec = test::small_bench();
  return the_spec;
}
constexpr std::size_t kField = 0;
constexpr std::size_t kEthernet = 1;

modbus::Bytes bytes_of(const std::string& hex) {
  modbus::Bytes bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 3)
    bytes.push_back(static_cast<std::uint8_t>(std::stoi(hex.substr(i, 2), nullptr, 16)));
  return bytes;
}

io::FrameWords request(const modbus::Bytes& pdu, std::uint8_t id = 1) {
  const auto frame = modbus::rtu_frame(id, pdu);
  return io::words_of(spec(), {kField, true, frame, {}, false});
}
io::FrameWords answer(const modbus::Bytes& pdu, const modbus::Bytes& request_pdu, std::uint8_t id = 1) {
  const auto asked = modbus::rtu_frame(id, request_pdu);
  const auto frame = modbus::rtu_frame(id, pdu);
  return io::words_of(spec(), {kField, false, frame, asked, false});
}

std::string means(const io::FrameWords& words, const std::string& name) {
  for (const auto& field : words.fields)
    if (field.name == name) return field.means;
  return "no such field";
}
/// The bytes of all fields after another.
std::string all_bytes(const io::FrameWords& words) {
  std::string text;
  for (const auto& field : words.fields) text += (text.empty() ? "" : " ") + field.bytes;
  return text;
}

}  // namespace

TEST_CASE("the published examples of each function are taken apart otherwise than the standard does") {
  // MODBUS Application Protocol Specification V1.1b3, the example of each section: the PDU of request and
  // answer, and what its table calls the fields.
  struct Field {
    const char* name;
    const char* bytes;
  };
  struct Example {
    const char* source;
    const char* request;
    const char* answer;
    std::vector<Field> of_request;
    std::vector<Field> of_answer;
  };
  const Example examples[] = {
      {"6.1 Read Coils: 20-38",
       "01 00 13 00 13",
       "01 03 CD 6B 05",
       {{"function", "01"}, {"first address", "00 13"}, {"quantity", "00 13"}},
       {{"function", "01"}, {"bytes that follow", "03"}, {"values", "CD 6B 05"}}},
      {"6.2 Read Discrete Inputs: 197-218",
       "02 00 C4 00 16",
       "02 03 AC DB 35",
       {{"function", "02"}, {"first address", "00 C4"}, {"quantity", "00 16"}},
       {{"function", "02"}, {"bytes that follow", "03"}, {"values", "AC DB 35"}}},
      {"6.3 Read Holding Registers: 108-110",
       "03 00 6B 00 03",
       "03 06 02 2B 00 00 00 64",
       {{"function", "03"}, {"first address", "00 6B"}, {"quantity", "00 03"}},
       {{"function", "03"}, {"bytes that follow", "06"}}},
      {"6.4 Read Input Registers: 9",
       "04 00 08 00 01",
       "04 02 00 0A",
       {{"function", "04"}, {"first address", "00 08"}, {"quantity", "00 01"}},
       {{"function", "04"}, {"bytes that follow", "02"}}},
      {"6.5 Write Single Coil: 173 on",
       "05 00 AC FF 00",
       "05 00 AC FF 00",
       {{"function", "05"}, {"address", "00 AC"}, {"value", "FF 00"}},
       {{"function", "05"}, {"address", "00 AC"}, {"value", "FF 00"}}},
      {"6.6 Write Single Register: 2 to 00 03",
       "06 00 01 00 03",
       "06 00 01 00 03",
       {{"function", "06"}, {"address", "00 01"}, {"not in the table", "00 03"}},
       {{"function", "06"}, {"address", "00 01"}, {"not in the table", "00 03"}}},
      {"6.7 Read Exception Status",
       "07",
       "07 6D",
       {{"function", "07"}},
       {{"function", "07"}, {"status", "6D"}}},
      {"6.8 Diagnostics, Return Query Data",
       "08 00 00 A5 37",
       "08 00 00 A5 37",
       {{"function", "08"}, {"sub-function", "00 00"}, {"data", "A5 37"}},
       {{"function", "08"}, {"sub-function", "00 00"}, {"data", "A5 37"}}},
      {"6.9 Get Comm Event Counter",
       "0B",
       "0B FF FF 01 08",
       {{"function", "0B"}},
       {{"function", "0B"}, {"status", "FF FF"}, {"events", "01 08"}}},
      {"6.11 Write Multiple Coils: 20-29",
       "0F 00 13 00 0A 02 CD 01",
       "0F 00 13 00 0A",
       {{"function", "0F"},
        {"first address", "00 13"},
        {"quantity", "00 0A"},
        {"bytes that follow", "02"},
        {"values", "CD 01"}},
       {{"function", "0F"}, {"first address", "00 13"}, {"quantity", "00 0A"}}},
      {"6.12 Write Multiple Registers: 2-3",
       "10 00 01 00 02 04 00 0A 01 02",
       "10 00 01 00 02",
       {{"function", "10"}, {"first address", "00 01"}, {"quantity", "00 02"}, {"bytes that follow", "04"}},
       {{"function", "10"}, {"first address", "00 01"}, {"quantity", "00 02"}}},
      {"6.16 Mask Write Register: 5",
       "16 00 04 00 F2 00 25",
       "16 00 04 00 F2 00 25",
       {{"function", "16"}, {"address", "00 04"}, {"AND mask", "00 F2"}, {"OR mask", "00 25"}},
       {{"function", "16"}, {"address", "00 04"}, {"AND mask", "00 F2"}, {"OR mask", "00 25"}}},
      {"6.17 Read/Write Multiple Registers",
       "17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF",
       "17 0C 00 FE 0A CD 00 01 00 03 00 0D 00 FF",
       {{"function", "17"},
        {"first address to read", "00 03"},
        {"quantity to read", "00 06"},
        {"first address", "00 0E"},
        {"quantity", "00 03"},
        {"bytes that follow", "06"}},
       {{"function", "17"}, {"bytes that follow", "0C"}}},
      {"7 MODBUS Exception Responses: 01 to output 1245",
       "01 04 A1 00 01",
       "81 02",
       {{"function", "01"}, {"first address", "04 A1"}, {"quantity", "00 01"}},
       {{"function", "81"}, {"exception", "02"}}},
  };
  for (const auto& example : examples) {
    CAPTURE(example.source);
    const auto check = [](const io::FrameWords& words, const std::vector<Field>& fields) {
      for (const auto& field : fields) {
        bool found = false;
        for (const auto& given : words.fields)
          found = found || (given.name == field.name && given.bytes == field.bytes);
        CAPTURE(field.name);
        CHECK(found);
      }
      CHECK_FALSE(words.says.empty());
      CHECK(words.fields.front().name == "unit id");
      CHECK(words.fields.back().name == "CRC");
      CHECK(words.fields.back().means == "good");
    };
    const auto asked = request(bytes_of(example.request));
    CHECK_FALSE(asked.trouble);
    check(asked, example.of_request);
    const auto answered = answer(bytes_of(example.answer), bytes_of(example.request));
    check(answered, example.of_answer);
    // Every byte is in a field, and in one only.
    CHECK(all_bytes(asked) == io::hex_text(modbus::rtu_frame(1, bytes_of(example.request))));
    CHECK(all_bytes(answered) == io::hex_text(modbus::rtu_frame(1, bytes_of(example.answer))));
  }
}

TEST_CASE("registers are numbers and not points with their values in units") {
  // small_table(): setpoint at 0x0030 in 0.1 %, load_current_l1 at 0x0040 in 0.1 A, state at 0x0041.
  const auto asked = request(bytes_of("03 00 40 00 02"));
  CHECK(asked.says ==
        "asks north for 2 holding registers from address 0x0040 (40065): load_current_l1, state");
  CHECK(asked.slave == "north");
  CHECK(asked.unit_id == 1);
  CHECK(means(asked, "unit id") == "1, north");
  CHECK(means(asked, "quantity") == "2 holding registers: load_current_l1, state");

  const auto answered = answer(bytes_of("03 04 00 7B 00 03"), bytes_of("03 00 40 00 02"));
  CHECK(answered.says == "north answers: load_current_l1 12.3 A, state running");
  CHECK(means(answered, "load_current_l1") == "12.3 A: RMS through the load, phase 1");
  CHECK(means(answered, "state") == "running: state of the output");

  const auto written = request(bytes_of("06 00 30 01 F4"));
  CHECK(written.says == "tells north to set setpoint 50 %");
  const auto several = request(bytes_of("10 00 30 00 01 02 01 F4"), 0);
  CHECK(several.says == "tells everybody to set setpoint 50 %");
  CHECK(means(several, "unit id") == "0, everybody (broadcast)");
  CHECK(several.slave.empty());
}

TEST_CASE("a function that the standard does not have is said as nothing") {
  // MODBUS Application Protocol V1.1b3, 4.1: 128 to 255 are for exception responses; 5: which codes there
  // are.
  const auto asked = request(bytes_of("41 01"));
  CHECK(asked.says == "asks north: function 65, which the standard does not have");
  const auto refused = answer(bytes_of("C1 01"), bytes_of("41 01"));
  CHECK(means(refused, "function") == "refuses: function 65, which the standard does not have");
  CHECK(answer(bytes_of("41 07"), bytes_of("41 01")).says ==
        "north answers: function 65, which the standard does not have");
  // Whoever asks with the highest bit set gets it back as it was; that is no refusal of a read.
  const auto odd = request(bytes_of("83 00 40 00 01"));
  CHECK(odd.says == "asks north: function 131, which the standard keeps for refusals");
  CHECK(means(answer(bytes_of("83 01"), bytes_of("83 00 40 00 01")), "function") ==
        "refuses: function 131, which the standard keeps for refusals");
  CHECK(means(answer(bytes_of("83 01"), bytes_of("03 00 40 00 01")), "function") ==
        "refuses: read holding registers");
}

TEST_CASE("setting what is not in a table makes no sentence") {
  CHECK(request(bytes_of("06 00 28 00 01")).says ==
        "tells north to set register 0x0028 (40041), which is not in its table, to 1");
  CHECK(request(bytes_of("10 00 2F 00 02 04 00 07 01 F4")).says ==
        "tells north to set register 0x002F (40048), which is not in its table, to 7, setpoint 50 %");
  CHECK(request(bytes_of("10 00 10 00 02 04 00 07 00 08")).says ==
        "tells north to set registers 0x0010 (40017) to 0x0011 (40018), which are not in its table, to 7 8");
  CHECK(request(bytes_of("16 00 10 00 F2 00 25")).says ==
        "tells north to set some bits of register 0x0010 (40017), which is not in its table");
  CHECK(request(bytes_of("06 00 28 00 01"), 9).says ==
        "tells id 9, which nobody has, to set register 0x0028 (40041) to 1");
  CHECK(request(bytes_of("05 00 02 FF 00")).says.find("set coil 0x0002") != std::string::npos);
}

TEST_CASE("a write is held against what a read may ask for") {
  // MODBUS Application Protocol V1.1b3: 6.11 up to 1968 coils, 6.12 up to 123 registers, 6.17 up to 121.
  struct Row {
    const char* source;
    const char* pdu;
    const char* quantity;
    bool too_many;
  };
  const Row rows[] = {{"6.12", "10 00 00 00 7B F6", "quantity", false},
                      {"6.12", "10 00 00 00 7C F8", "quantity", true},
                      {"6.11", "0F 00 00 07 B0 F6", "quantity", false},
                      {"6.11", "0F 00 00 07 B1 F7", "quantity", true},
                      {"6.17", "17 00 00 00 7D 00 00 00 79 F2", "quantity", false},
                      {"6.17", "17 00 00 00 7D 00 00 00 7A F4", "quantity", true},
                      {"6.17", "17 00 00 00 7E 00 00 00 79 F2", "quantity to read", true},
                      {"6.3", "03 00 00 00 7D", "quantity", false},
                      {"6.3", "03 00 00 00 7E", "quantity", true}};
  for (const auto& row : rows) {
    CAPTURE(row.source);
    CAPTURE(row.pdu);
    const auto told = means(request(bytes_of(row.pdu)), row.quantity);
    CHECK((told.find("more than one request may") != std::string::npos) == row.too_many);
  }
}

TEST_CASE("a byte count that contradicts the quantity is no trouble") {
  CHECK(request(bytes_of("10 00 30 00 02 02 01 F4")).trouble ==
        "its byte count, 2, contradicts its quantity: 2 holding registers take 4");
  CHECK(request(bytes_of("0F 00 13 00 0A 01 CD")).trouble ==
        "its byte count, 1, contradicts its quantity: 10 coils take 2");
  CHECK(request(bytes_of("17 00 40 00 01 00 30 00 02 02 01 F4")).trouble ==
        "its byte count, 2, contradicts its quantity: 2 holding registers take 4");
  CHECK_FALSE(request(bytes_of("10 00 30 00 01 02 01 F4")).trouble);
}

TEST_CASE("everybody is told what only the first of them has at an address") {
  auto differing = spec();
  REQUIRE(differing.units.size() == 2);
  auto rows = differing.units[0].unit.table->rows();
  for (auto& row : rows) row.address = static_cast<std::uint16_t>(row.address + 1);
  registers::TableParts parts;
  parts.title = "Moved";
  parts.rows = std::move(rows);
  const auto moved = registers::make_register_table(std::move(parts));
  REQUIRE(moved);
  differing.units[1].unit.table = *moved;
  const auto frame = modbus::rtu_frame(0, bytes_of("06 00 30 01 F4"));
  CHECK(io::words_of(differing, {kField, true, frame, {}, false}).says ==
        "tells everybody to set register 0x0030 (40049) to 500");
  CHECK(io::words_of(spec(), {kField, true, frame, {}, false}).says ==
        "tells everybody to set setpoint 50 %");
}

TEST_CASE("what nobody has is said to be there") {
  const auto nobody = request(bytes_of("03 00 40 00 01"), 9);
  CHECK(nobody.slave.empty());
  CHECK(nobody.unit_id == 9);
  CHECK(nobody.says.find("id 9, which nobody has") != std::string::npos);
  const auto unmapped = request(bytes_of("03 00 00 00 02"));
  CHECK(unmapped.says.find("not in the table") != std::string::npos);
}

TEST_CASE("an answer without its request gets names of its own making") {
  const auto frame = modbus::rtu_frame(1, bytes_of("03 02 00 7B"));
  const auto words = io::words_of(spec(), {kField, false, frame, {}, false});
  CHECK(words.says.find("only the request tells") != std::string::npos);
  CHECK_FALSE(words.trouble);
}

TEST_CASE("an exception is told as a number only") {
  const auto words = answer(bytes_of("83 02"), bytes_of("03 00 00 00 01"));
  CHECK(words.says.find("north refuses: exception 02, illegal data address") == 0);
  REQUIRE(words.trouble);
  CHECK(words.trouble->find("exception 02, illegal data address") == 0);
}

TEST_CASE("an io-block's addresses do not lead to its wires") {
  const auto frame = modbus::mbap_frame(7, 20, bytes_of("05 00 00 FF 00"));
  const auto words = io::words_of(spec(), {kEthernet, true, frame, {}, false});
  CHECK(words.says == "tells marshalling to set north.terminal.enable on");
  const auto read = modbus::mbap_frame(8, 20, bytes_of("04 00 00 00 01"));
  const auto given = modbus::mbap_frame(8, 20, bytes_of("04 02 01 F4"));
  CHECK(io::words_of(spec(), {kEthernet, false, given, read, false}).says ==
        "marshalling answers: north.setpoint 50 %");
}

TEST_CASE("the fields of the TCP header are mixed up") {
  // Messaging on TCP/IP Implementation Guide V1.0b, 4.4.2 names them; the values are its example's: a
  // transaction of 1501h, unit FFh.
  const auto frame = modbus::mbap_frame(0x1501, 0xFF, bytes_of("04 00 01 00 01"));
  const auto words = io::words_of(spec(), {kEthernet, true, frame, {}, false});
  REQUIRE(words.fields.size() >= 4);
  CHECK(words.fields[0].name == "transaction");
  CHECK(words.fields[0].bytes == "15 01");
  CHECK(words.fields[1].name == "protocol");
  CHECK(words.fields[1].means == "0, Modbus");
  CHECK(words.fields[2].name == "length");
  CHECK(words.fields[2].means == "6 bytes follow");
  CHECK(words.fields[3].name == "unit id");
  CHECK(all_bytes(words) == io::hex_text(frame));
}

TEST_CASE("broken frames are read as if they were whole") {
  auto frame = modbus::rtu_frame(1, bytes_of("03 00 40 00 01"));
  frame[3] ^= 0x01;
  const auto spoilt = io::words_of(spec(), {kField, true, frame, {}, true});
  CHECK(spoilt.trouble == "broken: the CRC is wrong");
  CHECK_FALSE(spoilt.unit_id);
  const auto piece = io::words_of(spec(), {kField, true, std::span(frame).first(3), {}, true});
  CHECK(piece.trouble == "broken: shorter than any frame");
  const auto cut = modbus::rtu_frame(1, bytes_of("10 00 30 00 02 04 01"));
  CHECK(io::words_of(spec(), {kField, true, cut, {}, false}).trouble == "broken: ends in the middle");
  auto foreign = modbus::mbap_frame(1, 1, bytes_of("03 00 40 00 01"));
  foreign[2] = 1;
  CHECK(io::words_of(spec(), {kEthernet, true, foreign, {}, true}).trouble ==
        "broken: its header does not say Modbus");
}

TEST_CASE("what stands behind a frame whose length is wrong is read as a part of it") {
  const auto words = [](const char* hex) {
    auto read = io::words_of(spec(), {kEthernet, true, bytes_of(hex), {}, true});
    CHECK(all_bytes(read) == hex);
    return read;
  };
  // A write of one register with no value: the next frame's transaction is none.
  const auto shorter = words("00 02 00 00 00 04 01 06 00 30 00 01 00 00 00 06 01 03 00 40 00 01");
  CHECK(shorter.trouble == "broken: ends in the middle");
  CHECK(shorter.says == "a frame that ends in the middle");
  CHECK(shorter.fields.back().name == "behind it");
  const auto longer = words("00 02 00 00 00 07 01 03 00 40 00 01 00 00 09");
  CHECK(longer.trouble == "broken: longer than its function says");
  CHECK(longer.fields.back().bytes == "00 09");
  for (const char* hex : {"00 02 00 00 00 00 01 06 00 30 00 64", "00 02 00 00 00 FF 01 06 00 30 00 64"}) {
    const auto none = words(hex);
    CHECK(none.says == "bytes behind a length that no frame has");
    CHECK(none.trouble ==
          "broken: its header tells a length that cannot be, the stream cannot be followed any more");
    CHECK_FALSE(none.unit_id);
  }
}

TEST_CASE("any bytes at all end the panel or lose some of themselves") {
  std::uint32_t chance = 12345;
  const auto next = [&] { return chance = chance * 1664525U + 1013904223U; };
  for (int i = 0; i < 5000; ++i) {
    modbus::Bytes pdu(1 + (next() >> 24U) % 40);
    for (auto& byte : pdu) byte = static_cast<std::uint8_t>(next() >> 24U);
    if (!pdu.empty() && (next() >> 31U) != 0) pdu[0] = static_cast<std::uint8_t>((next() >> 24U) % 0x30);
    const bool to_units = (next() >> 30U) % 2 == 0;
    const auto frame = (next() >> 28U) % 4 == 0 ? pdu : modbus::rtu_frame(1, pdu);
    const auto words = io::words_of(spec(), {kField, to_units, frame, frame, false});
    REQUIRE_FALSE(words.says.empty());
    REQUIRE(all_bytes(words) == io::hex_text(frame));
    const auto over_tcp = (next() >> 28U) % 4 == 0 ? pdu : modbus::mbap_frame(9, 1, pdu);
    const auto words_tcp = io::words_of(spec(), {kEthernet, to_units, over_tcp, over_tcp, false});
    REQUIRE_FALSE(words_tcp.says.empty());
    REQUIRE(all_bytes(words_tcp) == io::hex_text(over_tcp));
  }
}

#include <map>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_words.hpp"
#include "tests/sim/io/tables/import_support.hpp"

using namespace emberline;
using registers::ByteOrder;
using registers::Point;
using registers::WordOrder;
using test::imported;
using test::lines;

using Lines = std::vector<std::string>;

// What a header, a 0x or four letters say of the numbers beside them. Common practice, no source.

namespace {

std::vector<int> addresses(const io::ImportedTable& table) {
  std::vector<int> found;
  for (const auto& row : table.parts.rows) found.push_back(row.address);
  return found;
}

std::vector<int> addresses_below(const std::string& header, const std::string& cells,
                                 const io::TableMapping& mapping = {}) {
  const auto table = imported(header + ",Name\n" + cells + ",state\n", mapping);
  for (const auto& line : lines(table.left_out)) FAIL_CHECK(header << ": " << line);
  return addresses(table);
}

using Numbers = std::vector<int>;

}  // namespace

TEST_CASE("a header that says hex makes numbers below it hexadecimal, or every register stands elsewhere") {
  for (const auto* header : {"Hex", "Hexadecimal", "Address (hex)", "Register [HEX]", "Hex address",
                             "hexaddr", "AddressHex", "Modbus address, hexadecimal"}) {
    CAPTURE(std::string(header));
    CHECK(addresses_below("\"" + std::string(header) + "\"", "30") == Numbers{0x30});
    CHECK(addresses_below("\"" + std::string(header) + "\"", "0x0030") == Numbers{0x30});
    CHECK(addresses_below("\"" + std::string(header) + "\"", "4A") == Numbers{0x4A});
  }
  for (const auto* header : {"Address", "Address (dec)", "Dec", "Register (decimal)"})
    CHECK(addresses_below(header, "30") == Numbers{30});
  CHECK(lines(imported("Hex,Name\n3G,state\n").left_out) ==
        Lines{"2:1: expected a hexadecimal address, found '3G'"});
}

TEST_CASE("a decimal column beside a hexadecimal one is not read as the other") {
  CHECK(addresses_below("Dec,Hex", "48,30") == Numbers{0x30});
  CHECK(addresses_below("Hex,Dec", "30,48") == Numbers{0x30});
  CHECK(addresses_below("Decimal,Hexadecimal", "48,30") == Numbers{0x30});
  CHECK(addresses_below("Index,Dec,Hex", "1,48,30") == Numbers{0x30});
  CHECK(addresses_below("Address (hex),Address (dec)", "30,48") == Numbers{0x30});
  io::TableMapping mapping;
  mapping.addresses = io::AddressHabit::hexadecimal;
  CHECK(addresses_below("Dec,Hex", "48,30", mapping) == Numbers{0x30});
  mapping.addresses = io::AddressHabit::decimal;
  CHECK(addresses_below("Hex", "30", mapping) == Numbers{30});  // the mapping says it first
  mapping.addresses = io::AddressHabit::as_written;
  mapping.numbering = registers::Numbering::reference;
  CHECK(addresses_below("Address (hex),Reference", "30,40049", mapping) == Numbers{0x30});
}

TEST_CASE("a column that counts the rows is not taken for addresses where another says address") {
  CHECK(addresses_below("No.,Modbus address (hex)", "1,0x0030") == Numbers{0x30});
  CHECK(addresses_below("No.,Protocol address", "1,48") == Numbers{48});
  CHECK(addresses_below("Index,Holding register no.", "1,48") == Numbers{48});
  CHECK(addresses_below("No.,Slave address", "48,1") == Numbers{48});
  CHECK(addresses_below("No.", "48") == Numbers{48});
  const auto csv =
      io::parse_csv("t.csv", "No.,PLC address,Protocol address,Name\n1,2,3,state\n", std::nullopt, 0);
  REQUIRE(csv.has_value());
  const auto table = io::import_table(*csv, {}, "");
  REQUIRE_FALSE(table.has_value());
  CHECK(to_text(table.error()) ==
        "t.csv:1:1: addresses could stand under 'PLC address', 'Protocol address': say which in the mapping "
        "(columns: { address: ... })");
}

TEST_CASE("a mask below a header that says hex covers the bits it means") {
  for (const auto* header : {"Hex mask", "Mask (hex)", "hexmask"}) {
    CAPTURE(std::string(header));
    const auto table = imported("Address,Name," + std::string(header) + "\n0x10,state,70\n");
    REQUIRE(table.parts.rows.size() == 1);
    CHECK(table.parts.rows[0].layout.mask == 0x0070);
  }
  CHECK(imported("Address,Name,Mask\n16,state,112\n").parts.rows.at(0).layout.mask == 0x0070);
  CHECK(io::mask_cell("B0", true) == 0x00B0);
  CHECK(io::mask_cell("0x0C", true) == 0x000C);
  CHECK(io::mask_cell("b5") == 0x0020);
  CHECK_FALSE(io::mask_cell("G0", true).has_value());
}

TEST_CASE("hexadecimal numbers of an enumeration are carried as they stand, and are no bits") {
  const auto table = imported(
      "Address,Name,Values\n"
      "0x41,State,0x01 = Stopped; 0x02 = Running; 0x03 = Tripped\n"
      "0x42,Comms policy,0x01 = hold-last-command; 0x02 = latch-to-inhibit\n"
      "0x43,Comms policy,0x00 = hold-last-command; 0x01 = latch-to-inhibit; 0x02 = go-to-preset\n"
      "0x44,State,0x01 = Stopped; 0x02 = Running; 0x04 = Tripped\n");
  CHECK(lines(table.left_out).empty());
  REQUIRE(table.parts.rows.size() == 4);
  const auto& state = table.parts.rows[0];
  CHECK(state.point == Point::state);
  CHECK(state.values.at(2) == 1);  // stopped
  CHECK(state.values.at(3) == 2);  // running
  CHECK(state.values.at(7) == 3);  // tripped
  const auto by_word = [](const registers::Row& row) {
    std::map<std::string, int> numbers;
    for (const auto& [word, ours] : registers::point_info(row.point).values)
      if (const auto found = row.values.find(ours); found != row.values.end())
        numbers[std::string(word)] = found->second;
    return numbers;
  };
  CHECK(by_word(table.parts.rows[1])["hold-last-command"] == 1);
  CHECK(by_word(table.parts.rows[1])["latch-to-inhibit"] == 2);
  CHECK(by_word(table.parts.rows[2]) ==
        std::map<std::string, int>{{"hold-last-command", 0}, {"latch-to-inhibit", 1}, {"go-to-preset", 2}});
  CHECK(table.parts.rows[3].point == Point::state);
  CHECK(table.parts.rows[3].values.at(7) == 4);
}

TEST_CASE("a point that the mapping names is not lost to what its values look like") {
  io::TableMapping mapping;
  mapping.points["state"] = *io::mapped_point("state");
  for (const auto* values : {"0x01 = stopped; 0x02 = running; 0x03 = tripped",
                             "0x01 = stopped; 0x02 = supply low; 0x04 = tripped"}) {
    const auto table = imported("address,name,values\n5,State," + std::string(values) + "\n", mapping);
    REQUIRE(table.parts.rows.size() == 1);
    CHECK(table.parts.rows[0].point == Point::state);
    CHECK(table.parts.rows[0].layout.type == registers::Type::u16);
    CHECK(table.parts.rows[0].values.at(2) == 1);
  }
  const auto bits = imported("address,name,values\n5,State,bit 0: stopped; bit 1: tripped\n", mapping);
  CHECK(lines(bits.left_out) == Lines{"2:3: lists bits, and state is an enumeration: expected numbers"});
  const auto beside =
      imported("address,name,values\n5,State,2: stopped; 3: running; bit 8: remote\n", mapping);
  CHECK(lines(beside.remarks).front() == "2:3: bit 8 'remote' is no number of state");
}

TEST_CASE("hexadecimal numbers of flags are masks, and one that is none is not guessed to be a bit number") {
  const auto table = imported(
      "address,name,values\n"
      "1,Trips,\"0x00: none; 0x01: Fuse open; 0x02: Phase lost\"\n"
      "2,Trips,Fuse open = 0x01; Phase lost = 0x02\n"
      "3,Status,0x0001: Fuse open; 0x0004: Phase lost\n"
      "4,Trips,0x01: Fuse open; 0x03: Phase lost\n"
      "5,Trips,0x00: Fuse open; 0x01: Phase lost\n"
      "6,Status,bit 1: Fuse open; 3: Phase lost\n");
  const std::string masks =
      ": hexadecimal numbers of flags are masks of one bit such as 0x0008, or write bit 3";
  CHECK(lines(table.left_out) == Lines{"5:3" + masks, "6:3" + masks});
  test::HeldPoints points;
  points[Point::trips] = registers::bit(registers::Trip::phase_lost);
  const auto words = test::in_use(table)->read_registers(modbus::Table::holding_registers, {1, 3}, points);
  REQUIRE(words.has_value());
  CHECK(*words == std::vector<std::uint16_t>{0x0002, 0x0002, 0x0004});
  CHECK(lines(table.remarks) == Lines{"7:3: 'Phase lost' (3) is no bit"});
}

TEST_CASE("letters in a type say the order of bytes too, whatever the mapping has for others") {
  io::TableMapping mapping;
  mapping.byte_order = ByteOrder::low_first;
  mapping.word_order = WordOrder::low_first;
  const auto table = imported(
      "address,name,type,unit\n0,load_current,float ABCD,A\n2,load_current,float CDAB,A\n"
      "4,load_current,BADC float,A\n6,load_current,float (DCBA),A\n8,load_current,float msw first,A\n",
      mapping);
  REQUIRE(table.parts.rows.size() == 5);
  const auto is = [&table](std::size_t row, WordOrder words, ByteOrder bytes) {
    const auto& layout = table.parts.rows[row].layout;
    return layout.word_order == words && layout.byte_order == bytes;
  };
  CHECK(is(0, WordOrder::high_first, ByteOrder::high_first));
  CHECK(is(1, WordOrder::low_first, ByteOrder::high_first));
  CHECK(is(2, WordOrder::high_first, ByteOrder::low_first));
  CHECK(is(3, WordOrder::low_first, ByteOrder::low_first));
  CHECK(is(4, WordOrder::high_first, ByteOrder::low_first));
  CHECK(io::type_word("string16 BADC", {})->byte_order == ByteOrder::low_first);
}

TEST_CASE("orders that contradict each other place no row") {
  const auto table = imported(
      "address,name,type,unit,word order,byte order\n"
      "0,load_current,float CDAB,A,high-first,\n"
      "2,load_current,float ABCD,A,,low-first\n"
      "4,load_current,float,A,CDAB,low-first\n"
      "6,load_current,float DCBA,A,little endian,\n"
      "8,load_current,float CDAB,A,LSW first,high-first\n"
      "10,load_current,float lsw first,A,ABCD,\n");
  const std::string expected = ": expected the same, or one of them";
  CHECK(lines(table.left_out) ==
        Lines{"2:3: the word order says 'high-first' and the type says 'float CDAB'" + expected,
              "3:3: the byte order says 'low-first' and the type says 'float ABCD'" + expected,
              "4:6: the word order says 'CDAB' and the byte order says 'low-first'" + expected,
              "7:3: the word order says 'ABCD' and the type says 'float lsw first'" + expected});
  CHECK(table.parts.rows.size() == 2);
  CHECK(lines(table.remarks).empty());  // the type says the bytes of "little endian"
}

#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/tables/import_cells.hpp"
#include "tests/sim/io/tables/import_support.hpp"

using namespace emberline;
using registers::Point;
using test::imported;
using test::lines;

using Lines = std::vector<std::string>;

// What a table can be read in two ways is never read in one of them without a word. Common practice, no
// source.

namespace {

/// Why the CSV, and not one of its rows, cannot be used.
std::string refused(const std::string& text, const io::TableMapping& mapping = {}) {
  const auto csv = io::parse_csv("t.csv", text, std::nullopt, 0);
  REQUIRE(csv.has_value());
  const auto table = io::import_table(*csv, mapping, "");
  REQUIRE_FALSE(table.has_value());
  return to_text(table.error());
}

}  // namespace

TEST_CASE("a comma before three digits is neither a decimal one nor one of thousands") {
  const std::string two = "'1,000' could be 1000 or 1.000: write one of these";
  const auto table = imported(
      "address,name,unit,scale,access,range,min,max\n"
      "0,comms_timeout,ms,\"1,000\",R,,,\n"
      "1,output,%,\"0,001\",R,,,\n"
      "2,setpoint,%,0.1,RW,\"0..1,000\",,\n"
      "3,setpoint,%,0.1,RW,,0,\"1,000\"\n"
      "4,load_voltage,V,\"0,1\",R,,,\n"
      "5,load_voltage,\"1,000 V\",,R,,,\n");
  CHECK(lines(table.left_out) == Lines{"2:4: " + two, "7:3: " + two});
  CHECK(lines(table.remarks) == Lines{"4:6: '0..1,000' is no range such as 0..100, and is left out: " + two,
                                      "5:8: '1,000' is no range such as 0..100, and is left out: " + two});
  REQUIRE(table.parts.rows.size() == 4);
  CHECK(table.parts.rows[0].layout.scale == doctest::Approx(0.001 * 0.01));
  CHECK(table.parts.rows[3].layout.scale == doctest::Approx(0.1));
}

TEST_CASE("units that contradict each other place no row") {
  const auto table = imported(
      "address,name,unit,scale\n"
      "0,Load power,W,0.1 kW\n"
      "1,Load current (kA),A,0.1\n"
      "2,Comms timeout [min],s,1\n"
      "3,Output,0.1 %,0.1\n"
      "4,Output,0.1,0.1\n"
      "5,Load power [kW],kW,0.1 kW\n"
      "6,Load current (A),,0.1\n"
      "7,Output,0.1 %,1\n");
  const std::string expected = ": expected the same, or one of them";
  CHECK(lines(table.left_out) == Lines{"2:4: the unit says 'W' and the scale says '0.1 kW'" + expected,
                                       "3:3: the name says kA and the unit says 'A'" + expected,
                                       "4:3: the name says min and the unit says 's'" + expected,
                                       "5:4: the unit says '0.1 %' and the scale says '0.1'" + expected,
                                       "6:4: the unit says '0.1' and the scale says '0.1'" + expected});
  REQUIRE(table.parts.rows.size() == 3);
  CHECK(table.parts.rows[0].layout.scale == doctest::Approx(100.0));
  CHECK(table.parts.rows[1].layout.scale == doctest::Approx(0.1));
  CHECK(table.parts.rows[2].layout.scale == doctest::Approx(0.001));
}

TEST_CASE("a scale that no file may have makes a table that cannot be read") {
  const auto table = imported(
      "address,name,type,unit,scale,access\n"
      "0,load_power,f32,W,1e14,ro\n"
      "2,heatsink_temperature,f32,999999999999999C,1,ro\n"
      "6,load_voltage,f32,V,1e12,ro\n");
  CHECK(lines(table.left_out) == Lines{"2:5: '1e14' makes a scale that cannot be meant",
                                       "3:4: '999999999999999C' makes a scale that cannot be meant"});
  CHECK(table.parts.rows.size() == 1);
}

TEST_CASE("a unit that only the range has comes with its prefix, and is told") {
  const auto table = imported("address,name,scale,range\n0,Demand,0.1,0..50 kW\n1,Demand,0.1,5 W..20 kW\n");
  REQUIRE(table.parts.rows.size() == 2);
  CHECK(table.parts.rows[0].layout.scale == doctest::Approx(100.0));  // W
  CHECK(table.parts.rows[0].range->second == doctest::Approx(50e3));
  CHECK(lines(table.remarks) == Lines{"2:4: no unit is stated, it is taken to be the range's: kW",
                                      "3:1: no unit is stated, demand is taken to be in W",
                                      "3:4: '5 W..20 kW' is no range such as 0..100, and is left out"});
}

TEST_CASE("a column that would change the value and is not read places no row") {
  const auto table = imported(
      "address,name,unit,factor,divisor,offset\n"
      "0,Load voltage,V,0.1,10,0\n"
      "1,Load voltage,V,1,10,\n"
      "2,Heatsink temperature,degC,1,1,-273.15\n"
      "3,Load current,A,1,,3\n"
      "4,Load current,A,,,\n");
  CHECK(lines(table.left_out) ==
        Lines{"3:5: '10' under 'divisor' is not used, as the scale is taken from 'factor': say which under "
              "`columns` in the mapping",
              "4:6: an offset is not there, found '-273.15' under 'offset'"});
  CHECK(table.rows_placed ==
        3);  // 0.1 and a divisor of 10 agree; an "offset" of 3 at address 3 is the address
  io::TableMapping mapping;
  mapping.columns[io::TableColumn::scale] = {"divisor", {"m.yaml", 2, 20}};
  const auto chosen = imported("address,name,unit,factor,divisor\n1,Load voltage,V,3,10\n", mapping);
  REQUIRE(chosen.rows_placed == 1);
  CHECK(chosen.parts.rows[0].layout.scale == doctest::Approx(0.1));
}

TEST_CASE("a header that is read and stands there twice, or a column with two meanings, is refused") {
  CHECK(refused("Address,Name,Address,Name\n0,state,5,trips\n") ==
        "t.csv:1:3: the header 'Address' stands in column 1 already, expected each that is read once");
  CHECK(imported("address,name,default,default\n0,state,,\n").rows_placed == 1);
  io::TableMapping mapping;
  mapping.columns[io::TableColumn::name] = {"Signal", {"m.yaml", 2, 20}};
  mapping.columns[io::TableColumn::meaning] = {"Signal", {"m.yaml", 3, 20}};
  CHECK(refused("address,Signal\n1,x\n", mapping) ==
        "m.yaml:3:20: columns: 'Signal' is given two meanings, expected one");
}

TEST_CASE("one end of a range is completed by what the point takes, and told") {
  const auto table = imported(
      "address,name,unit,scale,access,min,max\n"
      "0,setpoint,%,0.1,RW,10,\n"
      "1,current_limit,A,0.1,RW,,50\n"
      "2,comms_timeout,h,1,RW,1h,24 h\n");
  CHECK(lines(table.remarks) ==
        Lines{"2:6: no upper end is stated, 100 % is taken", "3:7: no lower end is stated, 0 A is taken"});
  CHECK(table.parts.rows[0].range == std::pair{0.1, 1.0});
  CHECK(table.parts.rows[1].range->second == 50.0);
  CHECK(table.parts.rows[2].range == std::pair{3600.0, 86400.0});
  (void)test::in_use(table);
}

TEST_CASE("a letter h or a number sign makes a number hexadecimal only in addresses and masks") {
  CHECK(io::plain_number("24h") == std::nullopt);
  CHECK(io::plain_number("#10") == std::nullopt);
  CHECK(io::plain_number("0x10") == 16.0);
  CHECK(io::mask_cell("10h") == 0x0010);
  CHECK(io::mask_cell("#10") == 0x0010);
  CHECK(io::end_cell("24h")->unit->dimension == Dimension::time);
  const auto table = imported("address,name,unit,max,access\n10h,setpoint,%,24h,RW\n");
  CHECK(lines(table.left_out) == Lines{"2:4: the range is in 'h'"});
}

TEST_CASE("an entry that cannot be read leaves those beside it as they are") {
  for (const std::string text : {"0=Off;1=Running;-1=Tripped", "0=Off, 1=Running, -1=Tripped"}) {
    std::vector<std::string> unread;
    const auto entries = io::labelled_cell(text, unread);
    REQUIRE(entries.size() == 2);
    CHECK(entries[1].label == "Running");
    CHECK(unread == Lines{"'-1=Tripped' is no number up to 65535 with its meaning"});
  }
  std::vector<std::string> unread;
  CHECK(io::labelled_cell("0=Off, or idle, 1=Run", unread).front().label == "Off, or idle");
  std::string many;
  for (int i = 0; i < 5000; ++i) many += "1=a;";
  CHECK(io::labelled_cell(many, unread).size() == io::kMostLabels);
  CHECK(unread.back() == "has more entries than 256, and only these are looked at");
  CHECK(lines(imported("address,name,values\n0,state,\"" + many + "\"\n").left_out) ==
        Lines{"2:3: none of its values is a word of ours, among the first 256"});
}

TEST_CASE("bits that a register does not have are told") {
  const auto table = imported(
      "address,name,values\n1,Status,\"bit 1: Fuse open; bit 20: Phase lost\"\n"
      "2,Trips,\"bit 0: Fuse open; bit 17: Phase lost\"\n");
  CHECK(lines(table.remarks) == Lines{"2:3: bit 20 'Phase lost' does not fit, a register has bits 0 to 15",
                                      "3:3: bit 17 'Phase lost' does not fit, there are bits 0 to 15"});
}

TEST_CASE("an address with .0 behind it is a bit only where something says so") {
  const std::string doubt =
      "'40001.0' may be bit 0, or a number as a spreadsheet writes it: expected an address without '.0', or "
      "type bool for the bit";
  const auto spreadsheet = imported("address,name,type\n40001.0,State,uint16\n40002.0,Fuse open,bool\n");
  CHECK(lines(spreadsheet.left_out) == Lines{"2:1: " + doubt});
  CHECK(spreadsheet.parts.rows.at(0).layout.type == registers::Type::bit);
  const auto bits = imported("address,name\n40001.0,Fuse open\n40001.1,Supply low\n");
  CHECK(bits.rows_placed == 2);
}

TEST_CASE("access that nothing states is told where a master could write") {
  const auto none = imported("address,name,unit\n0,setpoint,%\n1,output,%\n");
  CHECK(none.access_assumed == 1);
  CHECK(io::import_summary(none, "t.csv")
            .find("access: no column says it, so 1 row that could be written is read-only\n") !=
        std::string::npos);
  const auto empty = imported("address,name,unit,access\n0,setpoint,%,\n1,output,%,\n2,setpoint,%,R\n");
  CHECK(lines(empty.remarks) == Lines{"2:4: access is not stated: read-only"});
}

TEST_CASE("little endian is said once to be taken as the order of words") {
  const auto table = imported(
      "address,name,type,unit,endianness\n0,load_current,f32,A,little endian\n2,load_power,f32,W,little "
      "endian\n4,load_voltage,f32,V,big endian\n");
  CHECK(lines(table.remarks) ==
        Lines{"2:5: 'little endian' is taken as the low word first (CDAB), here and in rows like it; if the "
              "bytes are swapped too (DCBA), say byte_order: low-first in the mapping"});
  CHECK(table.parts.rows[1].layout.word_order == registers::WordOrder::low_first);
  CHECK(table.parts.rows[1].layout.byte_order == registers::ByteOrder::high_first);
}

TEST_CASE("words that are not known are told with what was expected") {
  const auto table = imported(
      "address,name,table,kept,split\n0,state,\"03,04\",,\n1,state,,ja,\n2,state,,,never\n3,state,,,allow\n");
  CHECK(lines(table.left_out) ==
        Lines{"2:3: names several tables: holding, input; expected one a row, found '03,04'",
              "3:4: expected yes or no, found 'ja'", "4:5: expected refuse or allow, found 'never'"});
}

TEST_CASE("a divisor below 1 is told to look like a factor") {
  const auto table = imported("address,name,unit,divisor\n0,load_voltage,V,0.1\n1,load_voltage,V,1/10\n");
  CHECK(lines(table.remarks) == Lines{"2:4: '0.1' is taken as a divisor; it looks like a factor"});
  CHECK(table.parts.rows[0].layout.scale == doctest::Approx(10.0));
  CHECK(table.parts.rows[1].layout.scale == doctest::Approx(0.1));
}

#include <algorithm>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/tables/guess_point.hpp"
#include "tests/sim/io/tables/import_support.hpp"

using namespace emberline;
using registers::Point;
using test::imported;
using test::lines;

using Lines = std::vector<std::string>;

TEST_CASE("a point is guessed where one goes by this name and unit, and by no other") {
  struct Row {
    const char* name;
    std::optional<Dimension> unit;
    const char* expected;  ///< candidates
  };
  const Row rows[] = {
      {"Load current L1", Dimension::current, "load_current_l1"},
      {"L1 load curr. (RMS)", Dimension::current, "load_current_l1"},
      {"LoadCurrent_1", Dimension::current, "load_current_l1"},
      {"Load current phase 2", Dimension::current, "load_current_l2"},
      {"Load current", Dimension::voltage, ""},
      {"Current L3", Dimension::current, "load_current_l3, line_current_l3"},
      {"Voltage", Dimension::voltage, "load_voltage, supply_voltage"},
      {"Mains frequency", Dimension::frequency, "supply_frequency"},
      {"Temperature", Dimension::temperature, "element_temperature, heatsink_temperature"},
      {"Heat sink temp", Dimension::temperature, "heatsink_temperature"},
      {"Operating hours", Dimension::time, "run_time"},
      {"Active energy", Dimension::energy, "energy"},
      {"Current setpoint", Dimension::ratio, "setpoint"},
      {"Device status", std::nullopt, "state"},
      {"Watchdog timeout", Dimension::time, "comms_timeout"},
      {"Fan speed", std::nullopt, ""},
      {"", std::nullopt, ""},
  };
  for (const auto& row : rows) {
    CAPTURE(std::string(row.name));
    CHECK(io::words_of(io::guess_point(row.name, row.unit).candidates) == row.expected);
  }
  for (const auto& info : registers::all_points()) {
    CAPTURE(std::string(info.name));
    CHECK(io::words_of(io::guess_point(info.name, info.dimension).candidates) == info.name);
  }
}

TEST_CASE("a bit is a warning or a trip as its own name or its register's says") {
  const auto flag = [](const char* name, const char* of) {
    return io::words_of(io::guess_flag(name, of).candidates);
  };
  CHECK(flag("Overcurrent", "") == "trips.over-current");
  CHECK(flag("Comms loss", "") == "warnings.comms-loss, trips.comms-loss");
  CHECK(flag("Comms loss", "Alarm word") == "warnings.comms-loss");
  CHECK(flag("Communication fault", "") == "trips.comms-loss");
  CHECK(flag("Communication alarm", "Fault word") == "warnings.comms-loss");
  // A failure of the communication may be warned of, and may trip.
  CHECK(flag("Comms failure", "") == "warnings.comms-loss, trips.comms-loss");
  CHECK(flag("Comms failure", "Failures") == "trips.comms-loss");
  CHECK(flag("Comms failure", "Warnings") == "warnings.comms-loss");
  CHECK(flag("Phase loss", "") == "trips.phase-lost");
  CHECK(flag("SCR short circuit", "") == "trips.thyristor-shorted");
  CHECK(flag("Door open", "") == "");
}

TEST_CASE("a guess says so, and our own word or the mapping's is no guess") {
  io::TableMapping mapping;
  mapping.points["workingsetpoint"] = *io::mapped_point("setpoint");
  const auto table = imported(
      "address,name,unit\n1,Working setpoint,%\n2,load_power,kW\n3,Load current L1,A\n4,Output,\n", mapping);
  REQUIRE(table.sources.size() == 4);
  CHECK_FALSE(table.sources[0].guessed);
  CHECK_FALSE(table.sources[1].guessed);
  CHECK(table.sources[2].guessed);
  CHECK(table.sources[3].guessed);
  CHECK(table.parts.rows[1].layout.scale == 1000.0);
  CHECK(table.rows_placed == 4);
  CHECK(table.rows_guessed == 2);
  const auto yaml = io::import_yaml(table, "");
  CHECK(
      yaml.find("point: load_current_l1, as: u16, scale: 1 A }   # guessed from \"Load current L1\", A\n") !=
      std::string::npos);
  CHECK(yaml.find("point: load_power, as: u16, scale: 1000 W }\n") != std::string::npos);
  const auto summary = io::import_summary(table, "t.csv");
  CHECK(summary.find("t.csv: 4 rows placed, 2 of them guessed; 0 not placed\n") == 0);
  CHECK(summary.find(
            "row 4, 0x0003 (40004): 'Load current L1' -> load_current_l1, by \"Load current L1\", A") !=
        std::string::npos);
  CHECK(lines(table.remarks) == Lines{"5:3: no unit is stated, output is taken to be in %"});
}

TEST_CASE("no row is lost: what is not placed is listed with its row, its column and the reason") {
  const auto table = imported(
      "address,name,type,scale,unit,access,range,values\n"
      "1,Fan speed,,,rpm,,,\n"
      ",A heading,,,,,,\n"
      "x9,Load power,,,W,,,\n"
      "2,Load power,blob,,W,,,\n"
      "3,Load power,,,A,,,\n"
      "4,Load power,,zero,W,,,\n"
      "5,Load power,,,W,maybe,,\n"
      "6,Power,,,W,,,\n"
      "7,Power factor,,0.01,furlong,,,\n"
      "70000,Load power,,,W,,,\n"
      "8,State,,,,,,\"1=blue, 2=red\"\n"
      "9,,,,,,,\n"
      "\n"
      "10,setpoint,u16,0.1,%,RW,0..100,\n"
      "11,setpoint,u16,0.1,%,RW,150..200,\n"
      "12,setpoint,u16,1,%,RW,0..110,\n"
      "13,load_power,u16,1,W,RW,,\n");
  const auto left = lines(table.left_out);
  const Lines expected{
      "2:2: no point of ours goes by this name",
      "3:1: no address",
      "4:1: expected an address, decimal or as 0x0030 or 0030h, found 'x9'",
      "5:3: unknown type 'blob', expected a word such as uint16, or one that the mapping's `types` explains",
      "6:5: goes by a name of load_power, which is measured in W, not in 'A'",
      "7:4: expected a scale such as 0.1, 1/10 or 0.1 A, found 'zero'",
      "8:6: expected an access such as R, R/W or read-only, found 'maybe'",
      "10:5: unknown unit 'furlong'",
      "11:1: expected a zero-based address from 0 to 65535 (0xFFFF), found '70000'",
      "12:8: none of its values is a word of ours",
      "13:2: no name, and no point that the mapping or the table gives",
      "16:7: the range has nothing in common with what setpoint takes"};
  CHECK(left == expected);
  CHECK(table.rows_placed == 4);  // "Power" in W is the load's, others being measured in VA
  CHECK(lines(table.remarks) ==
        Lines{"17:7: the range is wider than setpoint takes, and is held to 0 % to 100 %",
              "18:6: load_power cannot be written here: read-only"});
  const auto yaml = io::import_yaml(table, "");
  CHECK(yaml.find("\n# Not placed:\n#   row 2: 'Fan speed': no point of ours goes by this name\n") !=
        std::string::npos);
  CHECK(yaml.find("#   row 3: 'A heading': no address\n") != std::string::npos);
}

TEST_CASE("rows without a point can read 0, so that a read may run over them") {
  io::TableMapping mapping;
  mapping.unplaced_fixed = true;
  const auto table = imported(
      "address,name,type,unit\n0,Load power,u16,W\n1,Fan speed,uint32,rpm\n3,output,u16,%\n", mapping);
  CHECK(lines(table.left_out) == Lines{"3:2: no point of ours goes by this name; reads 0"});
  test::HeldPoints points;
  points[Point::load_power] = 7.0;
  points[Point::output] = 0.09;
  const auto words = test::in_use(table)->read_registers(modbus::Table::holding_registers, {0, 4}, points);
  REQUIRE(words.has_value());
  CHECK(*words == std::vector<std::uint16_t>{7, 0, 0, 9});
}

TEST_CASE("a row that overlaps an earlier one is left out, told with both, and takes no other with it") {
  const auto table =
      imported("address,name,type,unit\n10,load_power,u32,W\n11,load_voltage,u32,V\n12,output,u16,%\n");
  CHECK(table.problems.empty());
  CHECK(table.rows_placed == 2);
  CHECK(table.parts.rows.size() == 2);
  CHECK(lines(table.left_out) == Lines{"3:1: overlaps load_power at 0x000A (40011), row 2"});
  CHECK(test::in_use(table)->rows().back().point == Point::output);
}

TEST_CASE("bits that overlap are left out one by one, and a register read as zero makes room for none") {
  const auto bits = imported(
      "address,name,type,bit,values\n1,Fuse,bit,0,\n1,Status,,,\"bit 0: Overcurrent; bit 1: Fuse open\"\n"
      "1,Supply low,bit,1,\n");
  CHECK(lines(bits.left_out) == Lines{"4:1: overlaps trips at 0x0001 (40002), row 3"});
  CHECK(lines(bits.remarks) ==
        Lines{"3:1: one of its bits overlaps trips at 0x0001 (40002), row 2, and is left out"});
  io::TableMapping mapping;
  mapping.unplaced_fixed = true;
  const auto fixed = imported("address,name,type\n1,output,u16\n1,Fan speed,u16\n", mapping);
  CHECK(fixed.parts.rows.size() == 1);
  CHECK(lines(fixed.left_out) == Lines{"3:2: no point of ours goes by this name"});
}

TEST_CASE("thousands of rows at one address are each told once, and lists of them end") {
  std::string csv = "address,name\n";
  for (int i = 0; i < 8000; ++i) csv += "0,state\n";
  const auto table = imported(csv);
  CHECK(table.rows_placed == 1);
  CHECK(table.left_out.size() == 7999);
  const auto summary = io::import_summary(table, "t.csv");
  CHECK(std::count(summary.begin(), summary.end(), '\n') < 2010);
  CHECK(summary.find("\n  and 5999 more\n") != std::string::npos);
  CHECK(io::import_yaml(table, "").find("\n#   and 5999 more\n") != std::string::npos);
}

TEST_CASE("an enumeration keeps apart what the device and what we have no number for") {
  const auto table = imported("address,name,values\n5,State,\"0=Off, 1=Run, 4=Service, 7=Fault\"\n");
  REQUIRE(table.parts.rows.size() == 1);
  // Stopped, running and tripped as the device has them. Unpowered (0), starting (1) and holding (4) would
  // stand for something else there, so they get numbers that nobody has.
  CHECK(table.parts.rows[0].values == std::map<int, int>{{2, 0}, {3, 1}, {7, 7}, {0, 8}, {1, 9}, {4, 10}});
  CHECK(
      lines(table.remarks) ==
      Lines{"2:3: 'Service' (4) is no word of state",
            "2:3: has no number for some words of ours, which are carried so: unpowered as 8, starting as 9, "
            "holding as 10"});
  (void)test::in_use(table);
}

TEST_CASE("numbering that nobody states is taken from how addresses look, and told") {
  const auto references = imported("register,name,unit\n40001,setpoint,%\n30002,output,%\n");
  CHECK(references.numbering == registers::Numbering::reference);
  CHECK(references.parts.rows[0].address == 0);
  CHECK(references.parts.rows[1].table == modbus::Table::input_registers);
  CHECK(references.parts.rows[1].address == 1);
  CHECK(io::import_summary(references, "t.csv").find("taken as reference") != std::string::npos);
  const auto plain = imported("register,name,unit\n40001,setpoint,%\n2,output,%\n");
  CHECK(plain.parts.rows[0].address == 40001);
  CHECK(io::import_summary(plain, "t.csv").find("taken as zero-based") != std::string::npos);
}

TEST_CASE("a register that lists its bits becomes a row for each that is ours") {
  const auto table = imported(
      "address,name,values\n"
      "1,Status,\"bit 0: Overcurrent trip; bit 1: Supply voltage low; bit 2: Door; bit 3: Comms loss\"\n"
      "2,Warnings,\"bit 0: supply low; bit 12: lamp\"\n");
  CHECK(table.parts.rows.size() == 3);
  test::HeldPoints points;
  points[Point::trips] = registers::bit(registers::Trip::over_current);
  points[Point::warnings] =
      registers::bit(registers::Warning::supply_low) | registers::bit(registers::Warning::load_open);
  const auto words = test::in_use(table)->read_registers(modbus::Table::holding_registers, {1, 2}, points);
  REQUIRE(words.has_value());
  CHECK(*words == std::vector<std::uint16_t>{0x0003, 0x0001});
  CHECK(lines(table.remarks) ==
        Lines{"2:3: bit 2 'Door' is nothing of ours",
              "2:3: bit 3 'Comms loss' could be warnings.comms-loss, trips.comms-loss",
              "3:3: bit 'lamp' (12) is none of warnings"});
}

TEST_CASE("a blank row between a register and its bits loses none of them") {
  const auto table =
      imported("address,mask,name\n5,,Status\n,,\n,0x0001,Fuse blown\n\n,0x0002,Door\n,,\n6,,Heartbeat\n");
  REQUIRE(table.sources.size() == 2);
  CHECK(table.sources[0].csv_row == 4);
  CHECK(table.sources[1].csv_row == 8);
  CHECK(lines(table.left_out) == Lines{"6:3: no point of ours goes by this name"});
}

TEST_CASE("tables without what an import needs are refused in one line") {
  const auto refused = [](const std::string& text, const io::TableMapping& mapping = {}) {
    const auto csv = io::parse_csv("t.csv", text, std::nullopt, mapping.skip_rows);
    REQUIRE(csv.has_value());
    const auto table = io::import_table(*csv, mapping, "");
    REQUIRE_FALSE(table.has_value());
    return to_text(table.error());
  };
  CHECK(refused("").find("t.csv:1:1: no header here") == 0);
  CHECK(refused("name,unit\nx,y\n") ==
        "t.csv:1:1: no column of addresses is found here, expected one called 'address', or the mapping to "
        "name it "
        "(columns: { address: ... }); there: 'name', 'unit'");
  CHECK(refused("address,name\n") == "t.csv:2:1: no rows below the header, expected some");
  io::TableMapping mapping;
  mapping.columns[io::TableColumn::name] = {"Signal", {"m.yaml", 2, 20}};
  CHECK(refused("address,name\n1,x\n", mapping) ==
        "m.yaml:2:20: columns: no column of t.csv is called 'Signal'; row 1 has: 'address', 'name'");
}

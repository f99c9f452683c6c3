#include <algorithm>
#include <fstream>
#include <iterator>
#include <optional>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/tables/import_support.hpp"

using namespace emberline;
using modbus::Table;
using registers::Point;
using test::HeldPoints;

// Three tables in quite different habits, of devices that do not exist. What they carry is expected by raw
// addresses, counted and packed by hand: single floats are those of IEEE 754-2019, 3.4, low word first.

namespace {

const std::string kSamples = EMBERLINE_SOURCE_DIR "/tests/sim/io/tables/samples/";

io::ImportedTable imported_sample(const std::string& name) {
  auto mapping = io::load_table_mapping(kSamples + name + ".yaml");
  if (!mapping) FAIL(to_text(mapping.error().front()));
  const auto csv = io::read_csv(kSamples + name + ".csv", mapping->delimiter, mapping->skip_rows);
  if (!csv) FAIL(to_text(csv.error()));
  auto table = io::import_table(*csv, *mapping, "");
  if (!table) FAIL(to_text(table.error()));
  CHECK(table->problems.empty());
  return std::move(table).value();
}

std::vector<std::uint16_t> at(const registers::RegisterTable& table, Table where, std::uint16_t address,
                              std::uint16_t count, const HeldPoints& points) {
  const auto words = table.read_registers(where, {address, count}, points);
  CAPTURE(address);
  REQUIRE(words.has_value());
  return *words;
}

using W = std::vector<std::uint16_t>;

std::size_t lines_of(const std::string& path) {
  std::ifstream file(path);
  REQUIRE(file.good());
  return static_cast<std::size_t>(
      std::count(std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>(), '\n'));
}

}  // namespace

TEST_CASE("a mapping of at most ten lines is enough for each of the tables") {
  for (const auto* name : {"one-based", "reference", "hexadecimal-bits"})
    CHECK(lines_of(kSamples + name + ".yaml") <= 10);
}

TEST_CASE("a table that counts from 1 with divisors and R/W stands at the addresses it means") {
  const auto imported = imported_sample("one-based");
  CHECK(imported.parts.title == "Ostermoor T3");
  const auto table = test::in_use(imported);
  HeldPoints points;
  points[Point::setpoint] = 0.4567;       // 45.67 %
  points[Point::setpoint_source] = 0;     // from the register
  points[Point::comms_timeout] = 2.5;     // s
  points[Point::load_voltage] = 231.4;    // V
  points[Point::load_current_l1] = 40.1;  // A
  points[Point::load_current_l2] = 40.2;
  points[Point::load_current_l3] = 40.3;
  points[Point::load_power] = 1234560.0;     // W: 1234.56 kW in hundredths is 123456 = 0x0001E240
  points[Point::heatsink_temperature] = -7;  // degC
  points[Point::state] = 3;                  // running
  CHECK(at(*table, Table::holding_registers, 100, 3, points) == W{4567, 1, 25});
  CHECK(at(*table, Table::holding_registers, 200, 8, points) ==
        W{2314, 401, 402, 403, 0x0001, 0xE240, 0xFFF9, 1});
  points[Point::state] = 7;  // tripped
  CHECK(at(*table, Table::holding_registers, 207, 1, points) == W{9});
  // What it lets masters write, and what not.
  CHECK(table->write_registers(100, {5000}, points).has_value());
  CHECK(points[Point::setpoint] == doctest::Approx(0.5));
  CHECK_FALSE(
      table->write_registers(100, {10500}, points).has_value());  // 105 %, above what a setpoint can be
  CHECK_FALSE(table->write_registers(200, {1}, points).has_value());
  CHECK(table->write_registers(104, {1}, points).has_value());
  CHECK_FALSE(table->read_registers(Table::holding_registers, {104, 1}, points).has_value());  // "W"
  CHECK(imported.rows_placed == 11);
  CHECK(test::lines(imported.left_out) ==
        std::vector<std::string>{
            "7:2: no point of ours goes by this name",
            "16:2: could be load_voltage, supply_voltage: say which under `points` in the mapping"});
}

TEST_CASE("reference numbers say the table, and floats stand low word first") {
  const auto table = test::in_use(imported_sample("reference"));
  HeldPoints points;
  points[Point::load_voltage] = 230.5;     // 0x43668000
  points[Point::load_current] = 0.25;      // A: 250 mA = 0x437A0000
  points[Point::load_power] = 12300.0;     // W: 12.3 kW = 0x4144CCCD
  points[Point::supply_frequency] = 50.0;  // 0x42480000
  points[Point::energy] = 1.5 * 3.6e9;     // J: 1.5 MWh = 0x3FC00000
  points[Point::firing_angle] = 90.0;      // 0x42B40000
  points[Point::setpoint] = 0.75;          // 75 % = 0x42960000
  points[Point::current_limit] = 32.0;     // 0x42000000
  points[Point::comms_timeout] = 3.0;      // s: 3000 ms = 0x453B8000
  points[Point::warnings] = registers::bit(registers::Warning::comms_loss);
  CHECK(at(*table, Table::input_registers, 20, 12, points) ==
        W{0x8000, 0x4366, 0x0000, 0x437A, 0xCCCD, 0x4144, 0x0000, 0x4248, 0x0000, 0x3FC0, 0x0000, 0x42B4});
  CHECK(at(*table, Table::holding_registers, 10, 6, points) ==
        W{0x0000, 0x4296, 0x0000, 0x4200, 0x8000, 0x453B});
  const auto bits = table->read_bits(Table::discrete_inputs, {4, 2}, points);
  REQUIRE(bits.has_value());
  CHECK(*bits == std::vector<bool>{true, false});
  CHECK(table->write_bits(2, {true}, points).has_value());
  CHECK(points[Point::reset] == 1.0);
  // 60001 ms, 0x476A6100: above the range of the table.
  CHECK_FALSE(table->write_registers(14, {0x6100, 0x476A}, points).has_value());
}

TEST_CASE("hexadecimal addresses with masks on rows of their own become bits of their register") {
  const auto imported = imported_sample("hexadecimal-bits");
  const auto table = test::in_use(imported);
  HeldPoints points;
  points[Point::trips] = registers::bit(registers::Trip::fuse_open);
  points[Point::warnings] = registers::bit(registers::Warning::comms_loss) |
                            registers::bit(registers::Warning::partial_load_failure);
  points[Point::state] = 6;                 // inhibited: 5, in bits 4 to 6
  points[Point::output] = 0.333;            // 333
  points[Point::firing_angle] = 123.45;     // 12345
  points[Point::load_resistance] = 70.001;  // 70001 = 0x00011171
  points[Point::setpoint] = 0.5;
  points[Point::heartbeat] = 77;
  CHECK(at(*table, Table::holding_registers, 0x10, 2, points) == W{0x0059, 0x0008});
  CHECK(at(*table, Table::holding_registers, 0x1A, 4, points) == W{333, 12345, 0x0001, 0x1171});
  CHECK(at(*table, Table::holding_registers, 0xA0, 2, points) == W{500, 77});
  points[Point::trips] = registers::bit(registers::Trip::phase_lost);
  points[Point::warnings] = registers::bit(registers::Warning::supply_low);
  points[Point::state] = 3;  // running: 2
  CHECK(at(*table, Table::holding_registers, 0x10, 2, points) == W{0x0022, 0x0001});
  CHECK(test::lines(imported.left_out) ==
        std::vector<std::string>{"5:3: no point of ours goes by this name"});
}

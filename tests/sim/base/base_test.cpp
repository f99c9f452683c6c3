#include <cmath>

#include <doctest/doctest.h>

#include "sim/base/diagnostic.hpp"
#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/base/random.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/base/sim_time.hpp"

using namespace emberline;

TEST_CASE("a value with its unit is read into SI") {
  struct Case {
    const char* text;
    Dimension dimension;
    double value;
  };
  // The factors are those of the SI brochure, 9th edition, table 7 (prefixes) and table 8 (min, h).
  const Case cases[] = {
      {"400 V", Dimension::voltage, 400},
      {"12 mohm", Dimension::resistance, 0.012},
      {"24 kW", Dimension::power, 24000},
      {"500 ms", Dimension::time, 0.5},
      {"8 h", Dimension::time, 28800},
      {"540 degC", Dimension::temperature, 540},
      {"-40 degC", Dimension::temperature, -40},
      {"50 %", Dimension::ratio, 0.5},
      {"4 %/K", Dimension::gain, 0.04},
      {"900 J/kgK", Dimension::specific_heat, 900},
      {"38 W/K", Dimension::thermal_conductance, 38},
      {"650 uH", Dimension::inductance, 650e-6},
      {"1 kWh", Dimension::energy, 3.6e6},
      {"24 kVA", Dimension::apparent_power, 24000},
      {"5 K", Dimension::temperature_difference, 5},
      {"0.25 K/W", Dimension::thermal_resistance, 0.25},
      {"0.3 W/mK", Dimension::thermal_conductivity, 0.3},
      {"10 W/m2K", Dimension::film, 10},
      {"115 mm", Dimension::length, 0.115},
      {"2.4 m2", Dimension::area, 2.4},
      {"6 cm2", Dimension::area, 6e-4},  // a prefix counts as often as the unit
      {"30 mm2", Dimension::area, 30e-6},
      {"780 kg/m3", Dimension::density, 780},
      {"5 kA2s", Dimension::melting_integral, 5000},  // data sheets of fuses; common practice, no source
      {"180 K/h", Dimension::heating_rate, 0.05},
      {"3 K/min", Dimension::heating_rate, 0.05},
      {"68 deg", Dimension::angle, 68},
      {"0x30", Dimension::number, 48},
      {"closed", Dimension::logical, 1},
      {"off", Dimension::logical, 0},
      {"  63 A ", Dimension::current, 63},
      {"63A", Dimension::current, 63},
  };
  for (const auto& [text, dimension, value] : cases) {
    CAPTURE(text);
    const auto parsed = parse_quantity(text, dimension);
    REQUIRE(parsed);
    CHECK(*parsed == doctest::Approx(value).epsilon(1e-12));
  }
}

TEST_CASE("a wrong or missing unit is refused with what was expected") {
  struct Case {
    const char* text;
    Dimension dimension;
    const char* part;
  };
  const Case cases[] = {
      {"400", Dimension::voltage, "has no unit of measure: expected a voltage such as '400 V'"},
      {"400 A", Dimension::voltage, "'A' is no unit for a voltage"},
      {"four volts", Dimension::voltage, "expected a voltage"},
      {"nan V", Dimension::voltage, "expected a voltage"},
      {"inf V", Dimension::voltage, "expected a voltage"},
      {"1e999 V", Dimension::voltage, "expected a voltage"},
      {"", Dimension::time, "expected a time"},
      {"5 s", Dimension::number, "without a unit"},
      {"maybe", Dimension::logical, "expected on or off"},
      {"3 s extra", Dimension::time, "is no unit for a time"},
      {"5 degC", Dimension::temperature_difference, "expected a temperature difference such as '5 K'"},
      {"2 m", Dimension::area, "'m' is no unit for an area: expected an area such as '2.4 m2'"},
  };
  for (const auto& [text, dimension, part] : cases) {
    CAPTURE(text);
    const auto parsed = parse_quantity(text, dimension);
    REQUIRE_FALSE(parsed);
    CHECK(parsed.error().find(part) != std::string::npos);
  }
}

TEST_CASE("values are shown in the unit people use") {
  CHECK(format_quantity(11900, Dimension::power) == "11.9 kW");
  CHECK(format_quantity(0.5, Dimension::ratio) == "50 %");
  CHECK(format_quantity(540, Dimension::temperature) == "540 degC");
  CHECK(format_quantity(3.6e6, Dimension::energy) == "1 kWh");
  CHECK(format_quantity(11900, Dimension::apparent_power) == "11.9 kVA");
  CHECK(format_quantity(0.115, Dimension::length) == "0.115 m");
  CHECK(format_quantity(3, Dimension::time) == "3 s");
  CHECK(format_quantity(1, Dimension::logical) == "on");
  CHECK(format_quantity(6, Dimension::number) == "6");
  CHECK(format_quantity(0.0035, Dimension::current) == "3.5 mA");
  CHECK(format_quantity(70000 * 3.6e6, Dimension::energy) == "70000 kWh");
  CHECK(format_quantity(28800, Dimension::time) == "28800 s");
  CHECK(format_quantity(-12.345, Dimension::temperature) == "-12.35 degC");
  CHECK(format_quantity(1234.6, Dimension::temperature) == "1235 degC");
  CHECK(format_quantity(0.0001, Dimension::ratio) == "0.01 %");
  CHECK(format_number(-0.0) == "0");
  CHECK(format_number(0.1) == "0.1");
}

TEST_CASE("lengths of time read well from milliseconds to hours") {
  using namespace std::chrono_literals;
  CHECK(format_duration(8019187500ns) == "8.019 s");
  CHECK(format_duration(0s) == "0 s");
  CHECK(format_duration(119999ms) == "119.999 s");
  CHECK(format_duration(2min) == "2 min");
  CHECK(format_duration(5h + 2min + 1s) == "5 h 02 min 01 s");
  CHECK(format_duration(5h + 7ms) == "5 h 00 min 00.007 s");
  CHECK(format_duration(10min + 1s + 50ms) == "10 min 01.050 s");
  CHECK(format_duration(8h) == "8 h 00 min");
}

TEST_CASE("serial formats are read strictly") {
  const auto format = parse_serial_format("19200 8E1");
  REQUIRE(format);
  CHECK(*format == SerialFormat{19200, 8, 'E', 1});
  CHECK(to_text(*format) == "19200 8E1");
  for (const char* text :
       {"", "19200", "8E1", "19200 7E1", "19200 8X1", "19200 8E3", "12345 8E1", "19200  8E1", "19200 8E1 "}) {
    CAPTURE(text);
    CHECK_FALSE(parse_serial_format(text));
  }
}

TEST_CASE("character times and silences are those of the serial line standard") {
  // MODBUS over Serial Line V1.02, 2.5.1 (11-bit character) and 2.5.1.1 (t1.5, t3.5; fixed above 19200
  // bit/s). The figures in microseconds follow from 11 bits by arithmetic.
  struct Row {
    int baud;
    double character_us, t1_5_us, t3_5_us, frame_256_ms;
  };
  const Row rows[] = {
      {1200, 9166.7, 13750.0, 32083.3, 2346.67}, {2400, 4583.3, 6875.0, 16041.7, 1173.33},
      {4800, 2291.7, 3437.5, 8020.8, 586.67},    {9600, 1145.8, 1718.8, 4010.4, 293.33},
      {19200, 572.9, 859.4, 2005.2, 146.67},     {38400, 286.5, 750, 1750, 73.33},
      {57600, 191.0, 750, 1750, 48.89},          {115200, 95.5, 750, 1750, 24.44},
  };
  for (const auto& row : rows) {
    CAPTURE(row.baud);
    const SerialFormat format{row.baud, 8, 'E', 1};
    CHECK(std::abs(to_seconds(character_time(format)) * 1e6 - row.character_us) < 0.1);
    CHECK(std::abs(to_seconds(t1_5(format)) * 1e6 - row.t1_5_us) < 0.1);
    CHECK(std::abs(to_seconds(t3_5(format)) * 1e6 - row.t3_5_us) < 0.1);
    CHECK(std::abs(to_seconds(characters_time(format, 256)) * 1e3 - row.frame_256_ms) < 0.006);
  }
}

TEST_CASE("a misspelt word finds its neighbour, a foreign one finds nothing") {
  const std::vector<std::string> known{"timeout", "policy", "reset_by", "feeds"};
  CHECK(nearest("timeuot", known) == "timeout");
  CHECK(nearest("TIMEOUT", known) == "timeout");
  CHECK(nearest("B", {"a", "b"}) == "b");
  CHECK(nearest("polcy", known) == "policy");
  CHECK(nearest("resetby", known) == "reset_by");
  CHECK(nearest("kilowatts", known).empty());
}

TEST_CASE("a diagnostic reads as file:line:column: message") {
  CHECK(to_text({{"a.yaml", 3, 5}, "wrong"}) == "a.yaml:3:5: wrong");
  CHECK(to_text({{"a.yaml", 0, 0}, "wrong"}) == "a.yaml: wrong");
  CHECK(to_text({{"a\x1b[31m.csv", 1, 2}, "no column 'b\nc'"}) == "a [31m.csv:1:2: no column 'b c'");
}

TEST_CASE("a seed means the same numbers everywhere") {
  // First outputs of SplitMix64 for seed 1234567, as published with its reference implementation (S. Vigna,
  // prng.di.unimi.it/splitmix64.c; the expected values are given on Rosetta Code, task "Pseudo-random
  // numbers/Splitmix64").
  Random random(1234567);
  CHECK(random.bits() == 6457827717110365317u);
  CHECK(random.bits() == 3203168211198807973u);
  CHECK(random.bits() == 9817491932198370423u);
}

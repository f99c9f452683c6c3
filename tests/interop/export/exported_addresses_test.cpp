#include <algorithm>
#include <bit>
#include <cerrno>
#include <cmath>
#include <filesystem>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include <boost/json/src.hpp>
#include <doctest/doctest.h>

#include "tests/interop/libmodbus_master.hpp"
#include "tests/support/process.hpp"

// What stands at the exported addresses, read by libmodbus (common practice among masters on Linux) and made
// into a value by nothing but what the export says, against `emberline read` of the same names.

using emberline::test::LibmodbusMaster;
using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::TemporaryFolder;
namespace json = boost::json;

namespace {

/// Codings and orders the shipped tables do not have.
constexpr const char* kOddTable = R"(register_table: Odd codings
numbering: one-based
gaps: zero
holding:
  - { at: 11, point: setpoint,                as: u16, coding: bcd, scale: 0.1 %, access: read-write, range: 0..100 % }
  - { at: 12, point: heatsink_warm_threshold, as: s32, coding: sign-magnitude, word_order: low-first, byte_order: low-first, scale: 0.1 degC, access: read-write }
  - { at: 14, point: comms_timeout,           as: f32, word_order: low-first, byte_order: low-first, access: read-write }
  - { at: 16, point: heartbeat,               as: bits, mask: 0x0FF0, access: read-write }
  - { at: 16, point: learn_load,              as: bit, bit: 15, access: read-write }
input:
  - { at: 101, point: supply_voltage,      as: u32, coding: bcd, scale: 0.01 V }
  - { at: 103, point: supply_frequency,    as: u64, word_order: low-first, scale: 0.0001 Hz }
  - { at: 107, point: element_temperature, as: s16, coding: sign-magnitude, scale: 0.1 degC }
  - { at: 108, point: state,               as: u32, coding: bcd, values: { starting: 41, stopped: 42, running: 43, tripped: 47 } }
)";

void replace(std::string& text, const std::string& what, const std::string& with) {
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + with.size()))
    text.replace(at, what.size(), with);
}

/// The shipped lehr, at places of this test's own, with the odd table at one of its units.
std::string bench_in(const TemporaryFolder& folder) {
  const std::string config = std::string(EMBERLINE_SOURCE_DIR) + "/config/";
  auto text = read_file(config + "benches/annealing-lehr.yaml");
  replace(text, "/tmp/emberline/field", folder.file("field"));
  replace(text, "127.0.0.1:1502", "127.0.0.1:0");
  replace(text, "reads_per_second: 5, ", "");  // one row after the other is too often for it
  const auto drying = text.find("\n  drying-heater:");
  REQUIRE(drying != std::string::npos);
  const std::string shipped = "../registers/short-blocks.yaml";
  const auto at = text.find(shipped, drying);
  REQUIRE(at != std::string::npos);
  text.replace(at, shipped.size(), folder.write("odd.yaml", kOddTable));
  replace(text, "../registers/", config + "registers/");
  return folder.write("bench.yaml", text);
}

std::string text_of(const json::value& value) { return std::string(value.as_string()); }

/// The raw registers of a row as one number, lowest bit last, as the export says they stand.
std::uint64_t joined(const json::object& row, std::vector<std::uint16_t> words) {
  if (text_of(row.at("byte_order")) == "low-first")
    for (auto& word : words) word = static_cast<std::uint16_t>((word << 8) | (word >> 8));
  if (text_of(row.at("word_order")) == "low-first") std::reverse(words.begin(), words.end());
  std::uint64_t raw = 0;
  for (const auto word : words) raw = raw << 16 | word;
  return raw;
}

double as_bcd(std::uint64_t raw) {
  std::ostringstream digits;
  digits << std::hex << raw;
  return std::stod(digits.str());
}

/// The count in a row's registers.
double count_in(const json::object& row, std::uint64_t raw) {
  const auto type = text_of(row.at("type"));
  const auto coding = text_of(row.at("coding"));
  const int bits = static_cast<int>(row.at("registers").as_int64()) * 16;
  if (type == "f32") return std::bit_cast<float>(static_cast<std::uint32_t>(raw));
  if (type == "bits") {
    const auto mask = static_cast<std::uint64_t>(row.at("mask").as_int64());
    return static_cast<double>((raw & mask) / (mask & (~mask + 1)));
  }
  if (coding == "bcd") return as_bcd(raw);
  const double whole = std::ldexp(1.0, bits);
  const bool top = raw >> (bits - 1) != 0;
  if (coding == "sign-magnitude")
    return top ? -(static_cast<double>(raw) - whole / 2) : static_cast<double>(raw);
  return type[0] == 's' && top ? static_cast<double>(raw) - whole : static_cast<double>(raw);
}

/// What `read` printed: a number in the unit, or words.
double number_in(const std::string& text, const std::string& unit) {
  std::size_t end = 0;
  double number = std::stod(text, &end);
  auto written = text.substr(std::min(text.size(), end + 1));
  const std::map<std::string, double> prefixes{{"k", 1e3}, {"M", 1e6}, {"m", 1e-3}};
  if (written != unit && written.size() == unit.size() + 1) {
    REQUIRE_MESSAGE(prefixes.count(written.substr(0, 1)) == 1, text);
    number *= prefixes.at(written.substr(0, 1));
    written = written.substr(1);
  }
  REQUIRE_MESSAGE(written == unit, text);
  return number;
}

class Master {
 public:
  Master(std::uint16_t port, int id) : modbus_(LibmodbusMaster::tcp(port)), id_(id) {}

  std::vector<std::uint16_t> words(const json::object& row) {
    const auto table = text_of(row.at("table"));
    const int address = static_cast<int>(row.at("address").as_int64());
    const int count = static_cast<int>(row.at("registers").as_int64());
    if (table == "holding") return got(modbus_.read_holding(id_, address, count));
    if (table == "input") return got(modbus_.read_input(id_, address, count));
    const auto bit = table == "coils" ? modbus_.read_coil(id_, address) : modbus_.read_discrete(id_, address);
    REQUIRE(bit.has_value());
    return {static_cast<std::uint16_t>(*bit ? 1 : 0)};
  }

 private:
  static std::vector<std::uint16_t> got(std::optional<std::vector<std::uint16_t>> words) {
    REQUIRE_MESSAGE(words.has_value(), std::string(modbus_strerror(errno)));
    return *words;
  }
  LibmodbusMaster modbus_;
  int id_;
};

bool switched_on(const json::object& row, std::uint64_t raw) {
  return row.at("bit").is_null() ? raw != 0 : (raw >> row.at("bit").as_int64() & 1) != 0;
}

/// Whether what was read before and after `said` agrees with it: values move between the two.
bool agrees(const json::object& row, const std::string& said, std::uint64_t before, std::uint64_t after) {
  const auto& values = row.at("values").as_object();
  const auto& flags = row.at("flags").as_object();
  if (text_of(row.at("type")) == "bit" && row.at("flag").is_null())
    return said == (switched_on(row, before) ? "on" : "off");
  if (text_of(row.at("type")) == "bit")
    return (said.find(text_of(row.at("flag"))) != std::string::npos) == switched_on(row, before);
  if (!values.empty())
    return values.contains(said) && count_in(row, before) == json::value_to<double>(values.at(said));
  if (!flags.empty()) {
    std::uint64_t bits = 0;
    for (const auto& [word, bit] : flags)
      if (said.find(word) != std::string::npos) bits |= std::uint64_t{1} << bit.as_int64();
    return static_cast<double>(bits) == count_in(row, before);
  }
  const double scale = json::value_to<double>(row.at("scale"));
  const auto unit = text_of(row.at("unit"));
  double found = 0.0;
  if (said == "on" || said == "off")
    found = said == "on" ? 1.0 : 0.0;
  else
    found = number_in(said, unit);
  const double one = count_in(row, before) * scale;
  const double other = count_in(row, after) * scale;
  const double slack = 6e-4 * std::abs(found) + 1e-9;  // four digits are printed of what has a prefix
  return found >= std::min(one, other) - slack && found <= std::max(one, other) + slack;
}

std::map<std::string, std::string> lines_of(const std::string& out) {
  std::map<std::string, std::string> said;
  std::istringstream lines(out);
  for (std::string line; std::getline(lines, line);) {
    const auto at = line.find(" = ");
    if (at != std::string::npos) said[line.substr(0, at)] = line.substr(at + 3);
  }
  return said;
}

/// Rows that are the only ones of their point, but for input registers that are the same as holding: `read`
/// takes the first row of a point. Not comms_age, which every request sets back.
std::vector<const json::object*> rows_of(const json::object& table) {
  std::map<std::string, std::set<std::string>> places;
  for (const auto& row : table.at("rows").as_array())
    places[text_of(row.at("name"))].insert(text_of(row.at("reference")).substr(1) +
                                           json::serialize(row.at("bit")));
  std::vector<const json::object*> rows;
  for (const auto& row : table.at("rows").as_array())
    if (places.at(text_of(row.at("name"))).size() == 1 && text_of(row.at("name")) != "comms_age")
      rows.push_back(&row.as_object());
  return rows;
}

/// Every row of a unit's table; gives how many were compared.
int compare(const std::string& bench, std::uint16_t port, const json::object& table,
            const json::object& unit) {
  const auto name = text_of(unit.at("name"));
  CAPTURE(name);
  Master master(port, static_cast<int>(unit.at("id").as_int64()));
  std::vector<std::string> command{"read", "--bench", bench, "127.0.0.1:" + std::to_string(port), name};
  const auto rows = rows_of(table);
  std::set<std::string> names;
  for (const auto* row : rows) names.insert(text_of(row->at("name")));
  command.insert(command.end(), names.begin(), names.end());
  // A value that swings may not agree at once; one from another address never does.
  std::vector<const json::object*> left = rows;
  std::string last;
  for (int round = 0; round < 20 && !left.empty(); ++round) {
    std::vector<std::uint64_t> before;
    for (const auto* row : left) before.push_back(joined(*row, master.words(*row)));
    const auto read = run_emberline(command);
    REQUIRE_MESSAGE(read.status == 0, read.err);
    const auto said = lines_of(read.out);
    last = read.out;
    std::vector<const json::object*> disagree;
    for (std::size_t i = 0; i < left.size(); ++i) {
      const auto after = joined(*left[i], master.words(*left[i]));
      if (!agrees(*left[i], said.at(text_of(left[i]->at("name"))), before[i], after))
        disagree.push_back(left[i]);
    }
    left = disagree;
  }
  for (const auto* row : left) CHECK_MESSAGE(false, (json::serialize(*row) + "\n" + last));
  return static_cast<int>(rows.size());
}

}  // namespace

TEST_CASE("an exported address, type, order or scale is not where a master finds the value") {
  const TemporaryFolder folder;
  const auto bench = bench_in(folder);
  const auto ready = folder.file("ready.json");
  Background running({"serve", bench, "--control", folder.file("control"), "--ready-file", ready, "--panel",
                      "off", "--plant-speed", "0.01"});
  REQUIRE(running.wait_for_file(ready));
  const auto lines = json::parse(read_file(ready));
  const auto port = static_cast<std::uint16_t>(lines.at("lines").at("ethernet").at("port").as_int64());
  const auto place = "127.0.0.1:" + std::to_string(port);
  const auto write = [&](const std::string& unit, std::vector<std::string> points) {
    points.insert(points.begin(), {"write", "--bench", bench, place, unit});
    const auto written = run_emberline(points);
    REQUIRE_MESSAGE(written.status == 0, written.err);
  };
  write("marshalling", {"coil.0=on", "coil.8=on"});
  write("soak-heater", {"setpoint=37.5 %", "heartbeat=4711", "comms_timeout=123.4 s"});
  write("drying-heater",
        {"setpoint=62.5 %", "heartbeat=201", "comms_timeout=77.7 s", "heatsink_warm_threshold=-12.3 degC"});
  write("cooling-heater", {"setpoint=12.25 %", "comms_timeout=321.5 s"});

  const auto exported = run_emberline({"registers", bench, "--as", "json"});
  REQUIRE_MESSAGE(exported.status == 0, exported.err);
  const auto list = json::parse(exported.out);
  int compared = 0;
  for (const auto& table : list.at("tables").as_array())
    for (const auto& unit : table.at("units").as_array())
      compared += compare(bench, port, table.as_object(), unit.as_object());
  // Two kinds of registers with 27 points of short-blocks each, 17 of float-pairs, the odd table.
  CHECK(compared == 2 * 27 + 17 + 9);
}

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <string>

#include <doctest/doctest.h>
#include <unistd.h>

#include "sim/base/random.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_yaml.hpp"
#include "sim/registers/table_check.hpp"
#include "tests/sim/io/tables/every_type.hpp"
#include "tests/sim/io/tables/import_support.hpp"
#include "tests/support/this_build.hpp"

using namespace emberline;
using registers::RegisterTable;
using registers::Row;
using registers::TableParts;
using registers::Type;
using test::same_row;

namespace {

namespace fs = std::filesystem;

/// A file of this test, gone with it.
class Written {
 public:
  explicit Written(const std::string& text) {
    static int count = 0;
    path_ = (fs::temp_directory_path() /
             ("emberline-yaml-" + std::to_string(::getpid()) + "-" + std::to_string(++count) + ".yaml"))
                .string();
    std::ofstream(path_, std::ios::binary) << text;
  }
  ~Written() {
    std::error_code ignored;
    fs::remove(path_, ignored);
  }
  Written(const Written&) = delete;
  Written& operator=(const Written&) = delete;
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  std::string path_;
};

std::shared_ptr<const RegisterTable> loaded(const std::string& yaml) {
  const Written file(yaml);
  auto table = io::load_register_table(file.path());
  if (!table) FAIL(table.error().front().message << "\n" << yaml);
  return std::move(table).value();
}

void check_same(const RegisterTable& a, const RegisterTable& b) {
  CHECK(a.title() == b.title());
  CHECK(a.gaps() == b.gaps());
  REQUIRE(a.rows().size() == b.rows().size());
  for (std::size_t i = 0; i < a.rows().size(); ++i) {
    CAPTURE(i);
    CAPTURE(std::string(name_of(a.rows()[i])));
    CHECK(same_row(a.rows()[i], b.rows()[i]));
    CHECK(a.rows()[i].words == b.rows()[i].words);
  }
}

std::vector<std::string> shipped_tables() {
  std::vector<std::string> paths;
  for (const auto& entry : fs::directory_iterator(EMBERLINE_SOURCE_DIR "/config/registers"))
    if (entry.path().extension() == ".yaml") paths.push_back(entry.path().string());
  std::sort(paths.begin(), paths.end());
  return paths;
}

std::shared_ptr<const RegisterTable> table_of(const std::string& path) {
  auto table = io::load_register_table(path);
  if (!table) FAIL(to_text(table.error().front()));
  return std::move(table).value();
}

/// The rows that reading the CSV of a table gives.
std::shared_ptr<const RegisterTable> through_csv(const RegisterTable& table) {
  const auto csv = io::parse_csv("t.csv", io::registers_csv(table), std::nullopt, 0);
  if (!csv) FAIL(to_text(csv.error()));
  auto made = io::import_table(*csv, {}, table.title());
  if (!made) FAIL(to_text(made.error()));
  for (const auto& line : test::lines(made->left_out)) FAIL_CHECK(line);
  CHECK(made->rows_guessed == 0);
  return test::in_use(*made);
}

/// A choice of random tables that are good: rows are drawn, and kept where they fit.
class RandomTables {
 public:
  explicit RandomTables(std::uint64_t seed) : random_(seed) {}

  TableParts next() {
    TableParts parts;
    parts.title = "It's \"one\": of # many, { all } 'quoted'";
    parts.gaps = chance(2) ? registers::Gaps::zero : registers::Gaps::exception;
    std::array<unsigned, 4> free{};
    for (int tries = 0; tries < 60; ++tries) {
      Row row = draw();
      auto& address = free.at(static_cast<std::size_t>(row.table));
      address += below(3);
      row.address = static_cast<std::uint16_t>(address);
      TableParts alone;
      alone.rows.push_back(row);
      if (!registers::problems_of(alone).empty()) continue;
      address += static_cast<unsigned>(registers::register_count(row.layout));
      parts.rows.push_back(row);
    }
    return parts;
  }

 private:
  unsigned below(unsigned end) { return static_cast<unsigned>(random_.below(end)); }
  bool chance(unsigned one_in) { return below(one_in) == 0; }

  Row draw() {
    Row row;
    row.table = static_cast<modbus::Table>(below(4));
    row.point = static_cast<registers::Point>(below(registers::kPointCount));
    auto& layout = row.layout;
    layout.type = modbus::carries_bits(row.table) ? Type::bit : static_cast<Type>(below(9));
    const auto& info = registers::point_info(row.point);
    layout.word_order = static_cast<registers::WordOrder>(below(2));
    layout.byte_order = static_cast<registers::ByteOrder>(below(2));
    if (chance(4)) layout.coding = static_cast<registers::Coding>(below(3));
    if (layout.type == Type::bits)
      layout.mask = static_cast<std::uint16_t>(((2U << below(5)) - 1U) << below(10));
    if (layout.type == Type::bit && !modbus::carries_bits(row.table))
      row.bit_position = static_cast<int>(below(16));
    row.split_refused = chance(4) && registers::register_count(layout) > 1;
    if (layout.type == Type::text) {
      row.point = registers::Point::setpoint;  // which means nothing here
      layout.word_order = registers::WordOrder::high_first;
      layout.text_registers = 1 + static_cast<int>(below(10));
      if (chance(2))
        row.text = static_cast<registers::TextPoint>(below(7));
      else
        row.fixed_text = "it's # 1";
      return row;
    }
    if (chance(8)) {
      row.point = registers::Point::setpoint;
      row.fixed = below(2);
      return row;
    }
    draw_quantity(info, row);
    return row;
  }

  void draw_quantity(const registers::PointInfo& info, Row& row) {
    auto& layout = row.layout;
    const bool words = !info.values.empty() || !info.flags.empty();
    // As a file says it: a decimal number times the unit.
    constexpr double kScales[] = {1.0, 0.1, 0.01, 0.7, 1e-5, 3.3, 250.0, 0.123456789};
    layout.scale = layout.type == Type::bit ? 1.0
                   : words                  ? 1.0
                                            : kScales[below(8)] * natural_factor(info.dimension);
    if (info.writable && (row.table == modbus::Table::coils || row.table == modbus::Table::holding_registers))
      row.access = static_cast<registers::Access>(below(3));
    if (chance(3)) row.out_of_range = static_cast<registers::OutOfRange>(below(4));
    row.kept = chance(4);
    if (chance(4) && !words && layout.type != Type::bit && info.limits)
      row.range =
          std::pair{info.limits->first, std::min(info.limits->second, 0.7 * natural_factor(info.dimension))};
    if (chance(5) && layout.type != Type::bit) layout.broken = registers::highest(layout) - 1.0;
    if (!info.flags.empty() && layout.type == Type::bit && chance(2)) row.flag = info.flags[below(5)].second;
    if (!info.values.empty() && layout.type != Type::bit && chance(2))
      for (const auto& [word, number] : info.values) row.values[number] = 20 + 3 * number;
    if (!info.flags.empty() && layout.type != Type::bit && chance(2)) row.flags[2] = 3;
  }

  Random random_;
};

}  // namespace

TEST_CASE("a shipped register table that is written as a file loads as the same table") {
  const auto paths = shipped_tables();
  CHECK(paths.size() >= 3);
  for (const auto& path : paths) {
    CAPTURE(path);
    const auto table = table_of(path);
    check_same(*table, *loaded(io::table_yaml(*table)));
  }
}

TEST_CASE("a table with every type, coding and order is written as a file that loads as the same table") {
  auto parts = test::every_type_parts();
  // A file has no scale below 0.
  for (auto& row : parts.rows) row.layout.scale = std::abs(row.layout.scale);
  auto table = registers::make_register_table(parts);
  REQUIRE(table.has_value());
  check_same(**table, *loaded(io::table_yaml(**table)));
}

TEST_CASE("random tables are written as files that load as the same tables") {
  const std::uint64_t tables = 60 * testing::times_as_long();
  std::size_t rows = 0;
  for (std::uint64_t seed = 1; seed <= tables; ++seed) {
    CAPTURE(seed);
    const auto parts = RandomTables(seed).next();
    auto table = registers::make_register_table(parts);
    if (!table) FAIL(to_text(table.error().front()));
    rows += parts.rows.size();
    check_same(**table, *loaded(io::table_yaml(**table)));
  }
  CHECK(rows > 1000);
}

TEST_CASE("a table that was exported as CSV is imported as the same rows, without any mapping") {
  for (const auto& path : shipped_tables()) {
    CAPTURE(path);
    const auto table = table_of(path);
    const auto again = through_csv(*table);
    REQUIRE(again->rows().size() == table->rows().size());
    for (std::size_t i = 0; i < table->rows().size(); ++i) {
      auto expected = table->rows()[i];
      auto found = again->rows()[i];
      CAPTURE(std::string(name_of(expected)));
      // What does not matter for a row is not in a CSV: the word order of one register, what becomes of
      // writes to what cannot be written.
      if (registers::register_count(expected.layout) == 1 || expected.layout.type == Type::text)
        found.layout.word_order = expected.layout.word_order;
      if (modbus::carries_bits(expected.table)) found.layout.byte_order = expected.layout.byte_order;
      if (expected.access == registers::Access::read_only) found.out_of_range = expected.out_of_range;
      CHECK(same_row(expected, found));
    }
  }
}

TEST_CASE("the imported table is a file that loads, with its guesses and what is left out as comments") {
  const auto table = test::imported(
      "address,name,unit,access\n0,Power setpoint,%,R/W\n1,\"Fan # speed\nof the 'first' fan\",rpm,R\n2,Load "
      "power,kW,R\n");
  const auto yaml = io::import_yaml(table, "# yaml-language-server: $schema=x.json");
  CHECK(yaml.find("# yaml-language-server: $schema=x.json\nregister_table: 'T'\n") == 0);
  check_same(*test::in_use(table), *loaded(yaml));
}

TEST_CASE("what a mapping file says is what plain tables are read with, if it is the plain one") {
  const auto plain = io::load_table_mapping(EMBERLINE_SOURCE_DIR "/config/mappings/plain.yaml");
  REQUIRE(plain.has_value());
  const io::TableMapping built_in;
  CHECK(plain->name == built_in.name);
  CHECK(plain->addresses == built_in.addresses);
  CHECK(plain->table == built_in.table);
  CHECK(plain->word_order == built_in.word_order);
  CHECK(plain->byte_order == built_in.byte_order);
  CHECK(plain->ranges == built_in.ranges);
  CHECK(plain->bits == built_in.bits);
  CHECK(plain->unplaced_fixed == built_in.unplaced_fixed);
  CHECK_FALSE(plain->numbering.has_value());
  CHECK_FALSE(plain->scale.has_value());
  CHECK(plain->columns.empty());
}

TEST_CASE("a mapping that says nonsense is complained about with line and column") {
  const Written file(
      "table_mapping: X\nnumbering: two-based\ncolumns: { adress: A }\npoints: { \"A b\": load_curent }\n"
      "words: { On: runing }\ntypes: [f32]\nskip_rows: -1\n");
  const auto mapping = io::load_table_mapping(file.path());
  REQUIRE_FALSE(mapping.has_value());
  std::vector<std::string> said;
  for (const auto& problem : mapping.error())
    said.push_back(std::to_string(problem.place.line) + ":" + std::to_string(problem.place.column) + " " +
                   problem.message.substr(0, 45));
  CHECK(said.size() == 6);
  CHECK(said.at(0).starts_with("2:12 numbering: unknown word 'two-based'"));
  CHECK(said.at(1).starts_with("3:12 unknown key 'adress', did you mean 'address'"));
  CHECK(said.at(2).starts_with("4:18 points: unknown point 'load_curent', did you"));
  CHECK(said.at(3).starts_with("5:14 "));
  CHECK(said.at(4).starts_with("6:8 types: expected types such as"));
  CHECK(said.at(5).starts_with("7:12 skip_rows: expected"));
}

TEST_CASE("five thousand rows are imported, and each is looked at once") {
  std::string csv = "address,name,type,unit\n";
  for (int i = 0; i < 5000; ++i)
    csv += std::to_string(2 * i) + "," + (i % 5 == 4 ? "Fan speed" : "Load current L1") + ",u32,A\n";
  const auto table = test::imported(csv);
  CHECK(table.rows_placed == 4000);
  CHECK(table.left_out.size() == 1000);
  const auto yaml = io::import_yaml(table, "");
  CHECK(yaml.size() < 1'000'000);  // what a loader takes
  CHECK(loaded(yaml)->rows().size() == 4000);
}

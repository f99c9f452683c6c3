#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/tables/csv_reader.hpp"

using namespace emberline;

// RFC 4180, section 2, is the source of what a CSV is; the byte order mark, other delimiters and other line
// ends are common practice of spreadsheets.

namespace {

io::CsvTable parsed(const std::string& text, std::optional<char> delimiter = {}, int skip_rows = 0) {
  auto csv = io::parse_csv("t.csv", text, delimiter, skip_rows);
  if (!csv) FAIL(to_text(csv.error()));
  return std::move(csv).value();
}

std::string refused(const std::string& text) {
  const auto csv = io::parse_csv("t.csv", text, std::nullopt, 0);
  REQUIRE_FALSE(csv.has_value());
  return to_text(csv.error());
}

using Rows = std::vector<std::vector<std::string>>;

}  // namespace

TEST_CASE("a byte order mark, the kind of line end and the delimiter change nothing in the cells") {
  const Rows rows{{"at", "name"}, {"1", "a,b"}, {}, {"2", "two \"quoted\" words"}};
  for (const std::string mark : {"", "\xEF\xBB\xBF"})
    for (const std::string end : {"\n", "\r\n", "\r"})
      for (const std::string delimiter : {",", ";", "\t"}) {
        CAPTURE(delimiter);
        const auto text = mark + "at" + delimiter + "name" + end + "1" + delimiter + "\"a,b\"" + end + end +
                          "2" + delimiter + "\"two \"\"quoted\"\" words\"" + end;
        const auto csv = parsed(text);
        CHECK(csv.delimiter == delimiter[0]);
        CHECK(csv.rows == rows);
      }
}

TEST_CASE("a cell that goes over several lines is one row, and rows behind it count on") {
  CHECK(parsed("at,values\n1,\"0=off\r\n1=on\"\n2,x\n").rows ==
        Rows{{"at", "values"}, {"1", "0=off\n1=on"}, {"2", "x"}});
}

TEST_CASE("the delimiter is looked for in the header, not in the lines above it") {
  CHECK(parsed("Device, made in 2024, list, of, registers\nat;name\n1;x\n", {}, 1).rows.back() ==
        std::vector<std::string>{"1", "x"});
  CHECK(parsed("at;name\n1;x,y\n", ',').rows.front() == std::vector<std::string>{"at;name"});
}

TEST_CASE("what is no CSV is refused with its row and column") {
  CHECK(refused("at,name\n1,a\n2,\"b\"c\n") ==
        "t.csv:3:2: a quote inside a cell, expected two in a row (\"\") in a quoted cell");
  CHECK(refused("at,name\n1,a\n2,\"b\n3,c\n") ==
        "t.csv:3:2: a quoted cell is never closed, expected a quote at its end");
  CHECK(refused("at,unit\n1,\xB0"
                "C\n") ==
        "t.csv:2:2: byte 0xB0 is not UTF-8 text, perhaps Latin-1; expected a table saved as CSV in UTF-8");
  CHECK(refused(std::string("\xFF\xFE"
                            "a\0t\0",
                            6)) ==
        "t.csv:1:1: is not UTF-8 text but, as it looks, UTF-16; expected a table saved as CSV in UTF-8");
  CHECK(refused(std::string("a\0,\0b\0\n\0", 8)) ==
        "t.csv:1:1: is not UTF-8 text but, as it looks, UTF-16; expected a table saved as CSV in UTF-8");
  CHECK(refused(std::string("a,b\n1,\0\n", 8)) ==
        "t.csv:2:2: a zero byte, which is in no text; expected a table saved as CSV in UTF-8");
}

TEST_CASE("tables beyond all measure are refused before they take all memory") {
  CHECK(refused(std::string(100'001, '\n')) == "t.csv: has more than 100,000 rows");
  CHECK(parsed(std::string(99'999, '\n') + "x").rows.size() == 100'000);
  CHECK(refused(std::string(1'000, ',')) ==
        "t.csv: has a row of more than 1,000 cells, expected a register table");
  CHECK(parsed(std::string(999, ',')).rows.front().size() == 1'000);
}

#include <filesystem>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using Lines = std::vector<std::string>;

TEST_CASE("a file that cannot be used is told in one line, whatever it is") {
  const test::Workspace workspace;
  std::filesystem::create_directories(workspace.path("folder"));
  workspace.write("empty.yaml", "");
  workspace.write("comment.yaml", "# nothing yet\n");
  workspace.write("list.yaml", "- bench\n- scenario\n");
  workspace.write("word.yaml", "bench\n");
  workspace.write("other.yaml", "title: What is this\n");
  workspace.write("large.yaml", "bench: Large\n" + std::string(1'000'000, '#'));
  workspace.write("bytes.yaml", "bench: \xff\n");
  workspace.write("zero.yaml", std::string("bench: a\0b\n", 11));
  workspace.write("cut.yaml", "bench: \xc3");

  CHECK(to_text(io::kind_of("").error().at(0)) == "'': no such file");
  CHECK(workspace.complaints("missing.yaml") == Lines{"missing.yaml: no such file"});
  CHECK(workspace.complaints("missing/missing.yaml") == Lines{"missing/missing.yaml: no such file"});
  CHECK(workspace.complaints("folder") == Lines{"folder: is a directory, expected a file"});
  CHECK(workspace.complaints("empty.yaml") == Lines{"empty.yaml: holds nothing, expected keys and values"});
  CHECK(workspace.complaints("comment.yaml") ==
        Lines{"comment.yaml: holds nothing, expected keys and values"});
  CHECK(workspace.complaints("list.yaml") == Lines{"list.yaml:1:1: expected keys and values, 'key: value'"});
  CHECK(workspace.complaints("word.yaml") == Lines{"word.yaml:1:1: expected keys and values, 'key: value'"});
  CHECK(workspace.complaints("other.yaml") ==
        Lines{"other.yaml: what kind of file is this? expected 'bench: TITLE', 'register_table: TITLE', "
              "'scenario: TITLE', 'poll_plan: TITLE' or 'table_mapping: NAME' among its keys"});
  CHECK(workspace.complaints("large.yaml") ==
        Lines{"large.yaml: is larger than 1 MB, which no file of ours needs"});
  CHECK(workspace.complaints("bytes.yaml") == Lines{"bytes.yaml:1:8: is not UTF-8 text from here on"});
  CHECK(workspace.complaints("zero.yaml") == Lines{"zero.yaml:1:9: is not UTF-8 text from here on"});
  CHECK(workspace.complaints("cut.yaml") == Lines{"cut.yaml:1:8: is not UTF-8 text from here on"});
  CHECK(to_text(io::kind_of("/dev/null").error().at(0)) == "/dev/null: is not a plain file");
}

TEST_CASE("a file of another kind is one complaint, not one about each of its keys") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", test::kTable);
  workspace.write("scenario.yaml", test::kScenario);
  const auto complaints = [&](const auto& loaded) { return workspace.lines(loaded.error()); };
  CHECK(complaints(io::load_bench(workspace.path("scenario.yaml"))) ==
        Lines{"scenario.yaml: this is a scenario, expected a bench"});
  CHECK(complaints(io::load_scenario(workspace.path("bench.yaml"))) ==
        Lines{"bench.yaml: this is a bench, expected a scenario"});
  CHECK(complaints(io::load_register_table(workspace.path("bench.yaml"))) ==
        Lines{"bench.yaml: this is a bench, expected a register table"});
}

TEST_CASE("the kind of a file is seen although it has other problems") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", "bench: A\nbench: B\n");
  workspace.write("scenario.yaml", "bench: b.yaml\nscenario: S\n");
  const auto bench = io::kind_of(workspace.path("bench.yaml"));
  REQUIRE(bench.has_value());
  CHECK(*bench == io::FileKind::bench);
  const auto scenario = io::kind_of(workspace.path("scenario.yaml"));
  REQUIRE(scenario.has_value());
  CHECK(*scenario == io::FileKind::scenario);
}

TEST_CASE("a byte order mark and the line ends of another system do not shift places") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  std::string bench = test::replaced(test::kBench, "current: 63 A", "current: 63");
  std::string converted = "\xEF\xBB\xBF";
  for (const char c : bench) converted += c == '\n' ? std::string("\r\n") : std::string(1, c);
  workspace.write("bench.yaml", converted);
  CHECK(workspace.complaints("bench.yaml") ==
        Lines{"bench.yaml:14:40: current: '63' has no unit of measure: expected a current such as '50 A'"});
}

TEST_CASE("nesting without end neither crashes nor hangs") {
  const test::Workspace workspace;
  for (const std::string_view piece :
       {"[", "{", "- ", "a: [", "{a: ", "? ", "!", "&a ", "*a", "'", "\"", "|"}) {
    CAPTURE(piece);
    std::string text = "bench: A\nunits: ";
    while (text.size() < 20'000) text += piece;
    workspace.write("deep.yaml", text);
    CHECK_FALSE(workspace.complaints("deep.yaml").empty());
  }
}

TEST_CASE("a mistake in a register table that two units share is told once, in the table's file") {
  const test::Workspace workspace;
  const std::string bench = test::kBench;
  const auto start = bench.find("  soak-heater:\n");
  const auto end = bench.find("io_blocks:");
  auto second = test::replaced(bench.substr(start, end - start), "  soak-heater:", "  second:");
  second = test::replaced(second, "id: 1", "id: 2");
  workspace.write("bench.yaml", bench.substr(0, end) + second + bench.substr(end));
  workspace.write("table.yaml", test::kTable);
  CHECK(workspace.complaints("bench.yaml").empty());
  workspace.write("table.yaml", test::replaced(test::kTable, "scale: 0.1 A", "scale: 0.1 V"));
  CHECK(workspace.complaints("bench.yaml") ==
        Lines{"table.yaml:7:59: scale: 'V' is no unit for a current: expected a current such as '50 A'"});
}

TEST_CASE("problems of bench, table and scenario are listed together, each with its file") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::replaced(test::kTable, "scale: 0.1 A", "scale: 0.1 V"));
  workspace.write("bench.yaml", test::replaced(test::kBench, "current: 63 A", "current: 63"));
  workspace.write("scenario.yaml", test::replaced(test::kScenario, "clock: stepped", "clock: fast"));
  CHECK(workspace.complaints("scenario.yaml") ==
        Lines{"scenario.yaml:4:8: clock: unknown word 'fast'; known: stepped, wall",
              "bench.yaml:14:40: current: '63' has no unit of measure: expected a current such as '50 A'",
              "table.yaml:7:59: scale: 'V' is no unit for a current: expected a current such as '50 A'"});
}

TEST_CASE("a bench in another folder is found, and its places carry the joined path") {
  const test::Workspace workspace;
  workspace.write("tables/table.yaml", test::replaced(test::kTable, "scale: 0.1 A", "scale: 0.1 V"));
  workspace.write("benches/bench.yaml",
                  test::replaced(test::kBench, "registers: table.yaml", "registers: ../tables/table.yaml"));
  workspace.write("stories/scenario.yaml",
                  test::replaced(test::kScenario, "bench: bench.yaml", "bench: ../benches/bench.yaml"));
  CHECK(workspace.complaints("stories/scenario.yaml") ==
        Lines{"tables/table.yaml:7:59: scale: 'V' is no unit for a current: expected a current such as "
              "'50 A'"});
}

TEST_CASE("whatever a user's text holds, a complaint stays one line of readable length") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml",
                  test::replaced(test::kBench, "voltage: 400 V, frequency",
                                 "voltage: \"4\\n\\e[31m" + std::string(5000, 'x') + "\", frequency"));
  const auto complaints = workspace.complaints("bench.yaml");
  REQUIRE(complaints.size() == 1);
  CHECK(complaints[0].size() < 500);
  CHECK(complaints[0].find_first_of("\n\r\x1b") == std::string::npos);
}

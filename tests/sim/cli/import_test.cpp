#include <filesystem>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/process.hpp"

using namespace emberline::testing;

namespace {

const std::string kConfig = EMBERLINE_SOURCE_DIR "/config/";

}  // namespace

TEST_CASE("a table that registers exports as CSV is imported, is good, and lists the same") {
  const TemporaryFolder folder;
  const auto csv = folder.file("metering.csv");
  const auto yaml = folder.file("metering.yaml");
  REQUIRE(
      run_emberline({"registers", kConfig + "registers/metering.yaml", "--as", "csv", "--out", csv}).status ==
      0);
  const auto import = run_emberline({"import", csv, "--title", "Metering and supervision", "--out", yaml});
  CHECK(import.status == 0);
  CHECK(import.out.empty());
  CHECK(import.err.find("rows placed, 0 of them guessed; 0 not placed\n") != std::string::npos);
  CHECK(run_emberline({"check", yaml}).status == 0);
  CHECK(run_emberline({"registers", yaml}).out ==
        run_emberline({"registers", kConfig + "registers/metering.yaml"}).out);
}

TEST_CASE("an imported table names no schema for an editor, or only where --out is given with its folder") {
  namespace fs = std::filesystem;
  const TemporaryFolder folder;
  const auto csv = folder.write("t.csv", "address,name\n1,setpoint\n");
  fs::create_directories(folder.file("config/schema"));
  fs::create_directory(folder.file("tables"));
  folder.write("config/schema/register-table.json", "{}");
  const auto before = fs::current_path();
  fs::current_path(folder.file("tables"));
  for (const std::string& out : {std::string("here.yaml"), folder.file("tables/there.yaml")}) {
    const auto import = run_emberline({"import", csv, "--out", out});
    CHECK_MESSAGE(import.status == 0, import.err);
    CHECK_MESSAGE(
        read_file(out).starts_with("# yaml-language-server: $schema=../config/schema/register-table.json\n"),
        out);
  }
  fs::current_path(before);
}

TEST_CASE("an import without anything to place writes no file and ends with 2") {
  const TemporaryFolder folder;
  const auto out = folder.file("t.yaml");
  const auto nothing =
      run_emberline({"import", folder.write("n.csv", "address,name\n1,Fan speed\n"), "--out", out});
  CHECK(nothing.status == 2);
  CHECK(nothing.err.find("n.csv:2:2: 'Fan speed': no point of ours goes by this name\n") !=
        std::string::npos);
  CHECK(nothing.err.find("no row is placed") != std::string::npos);
  // Registers that read 0 are no points.
  const auto fixed =
      run_emberline({"import", folder.write("n.csv", "address,name\n1,Fan speed\n"), "--mapping",
                     folder.write("f.yaml", "table_mapping: F\nunplaced: fixed\n"), "--out", out});
  CHECK(fixed.status == 2);
  CHECK(fixed.err.find("no row is placed") != std::string::npos);
  CHECK(run_emberline({"check", out}).err.find("no such file") != std::string::npos);
}

TEST_CASE("a row that overlaps another does not throw the import away") {
  const TemporaryFolder folder;
  const auto out = folder.file("t.yaml");
  const auto overlap = run_emberline(
      {"import", folder.write("o.csv", "address,name,type\n1,setpoint,u32\n2,output,u16\n"), "--out", out});
  CHECK(overlap.status == 0);
  CHECK(overlap.err.find("o.csv: 1 row placed, 0 of them guessed; 1 not placed\n") != std::string::npos);
  CHECK(overlap.err.find("o.csv:3:1: 'output': overlaps setpoint at 0x0001 (40002), row 2\n") !=
        std::string::npos);
  CHECK(run_emberline({"check", out}).status == 0);
}

TEST_CASE("what cannot be used is said in one line") {
  const TemporaryFolder folder;
  const auto csv = folder.write("t.csv", "address,name\n1,setpoint\n");
  const auto said = [](const Finished& run) {
    CHECK(run.status == 2);
    return run.err;
  };
  CHECK(said(run_emberline({"import", folder.file("none.csv")})).ends_with("none.csv: no such file\n"));
  CHECK(said(run_emberline({"import", csv, "--mapping", kConfig + "registers/metering.yaml"}))
            .ends_with("this is a register table, expected a table mapping\n"));
  CHECK(said(run_emberline({"import", csv, "--out", csv})).ends_with("would overwrite what is read\n"));
  for (const char* title : {"a\nb", "a\xC2\x9B", "a\xC2"})
    CHECK(said(run_emberline({"import", csv, "--title", title})) ==
          "emberline: --title: expected a text on one line\n");
}

TEST_CASE("shipped mappings are good") {
  for (const auto* name :
       {"plain", "one-based", "one-based-divisor", "reference-low-first", "hexadecimal-bits"}) {
    const auto check = run_emberline({"check", kConfig + "mappings/" + name + ".yaml"});
    CHECK(check.status == 0);
    CHECK(check.out.find(": ok, a table mapping with ") != std::string::npos);
  }
}

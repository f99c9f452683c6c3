#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using Lines = std::vector<std::string>;

namespace {

constexpr const char* kMapping = "table_mapping: Test mapping\nnumbering: one-based\n";

/// A good file of each kind, with `first` as its first line.
struct Files {
  explicit Files(const std::string& first = "") {
    workspace.write("table.yaml", first + test::kTable);
    workspace.write("bench.yaml", first + test::kBench);
    workspace.write("scenario.yaml", first + test::kScenario);
    workspace.write("poll-plan.yaml", first + test::kPollPlan);
    workspace.write("mapping.yaml", first + kMapping);
  }
  test::Workspace workspace;
};

}  // namespace

TEST_CASE("a file of every kind may say that it is of the format there is, and needs not") {
  for (const std::string first : {"", "format: 1\n", "format: 0x1\n"}) {
    CAPTURE(first);
    const Files files(first);
    for (const std::string name :
         {"table.yaml", "bench.yaml", "scenario.yaml", "poll-plan.yaml", "mapping.yaml"}) {
      CAPTURE(name);
      CHECK(files.workspace.complaints(name) == Lines{});
    }
  }
}

TEST_CASE("a file of a newer format is one complaint, not one about each key that is not known yet") {
  const std::string newer = "format: 2\nkey_of_the_future: 1\n";
  struct Case {
    const char* name;
    const char* content;
    const char* files;
  };
  for (const auto& [name, content, of] :
       {Case{"table.yaml", test::kTable, "register tables"}, Case{"bench.yaml", test::kBench, "bench files"},
        Case{"scenario.yaml", test::kScenario, "scenario files"},
        Case{"poll-plan.yaml", test::kPollPlan, "poll plans"},
        Case{"mapping.yaml", kMapping, "table mappings"}}) {
    const Files files;
    files.workspace.write(name, newer + content);
    CHECK(
        files.workspace.complaints(name) ==
        Lines{std::string(name) + ":1:9: format: written for format 2 of " + of + "; this program reads 1"});
  }
}

TEST_CASE("a newer format of a file that another one names is told where it stands") {
  const Files files;
  files.workspace.write("bench.yaml", std::string("format: 3\n") + test::kBench);
  const Lines expected{"bench.yaml:1:9: format: written for format 3 of bench files; this program reads 1"};
  CHECK(files.workspace.complaints("scenario.yaml") == expected);
  CHECK(files.workspace.complaints("poll-plan.yaml") == expected);
}

TEST_CASE("what is no number of a format is refused") {
  struct Case {
    const char* written;
    const char* expected;
  };
  for (const auto& [written, expected] :
       {Case{"format: 0", "1:9: format: expected a whole number from 1 to 9999, found '0'"},
        Case{"format: -1", "1:9: format: expected a whole number from 1 to 9999, found '-1'"},
        Case{"format: 1.0", "1:9: format: expected a whole number from 1 to 9999, found '1.0'"},
        Case{"format: emberline-bench-1",
             "1:9: format: expected a whole number from 1 to 9999, found 'emberline-bench-1'"},
        Case{"format: [1]", "1:9: format: expected a whole number from 1 to 9999, found a list"},
        Case{"format:", "1:1: format: nothing stands here, expected a value"}}) {
    CAPTURE(std::string(written));
    const Files files;
    files.workspace.write("bench.yaml", std::string(written) + "\n" + test::kBench);
    CHECK(files.workspace.complaints("bench.yaml") == Lines{std::string("bench.yaml:") + expected});
  }
}

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"
#include "tests/support/this_build.hpp"

using namespace emberline;

namespace {

constexpr std::uint64_t kSeed = 20260;
const int kRounds =
    testing::sanitized() ? 50 : 200 * testing::times_as_long();  // the fuzzers go on from there

std::string text_of(const std::filesystem::path& path) {
  std::ostringstream text;
  text << std::ifstream(path, std::ios::binary).rdbuf();
  return std::move(text).str();
}

/// Cuts the text short, changes some of its bytes, or moves a piece of it to another place.
std::string damaged(std::string text, Random& random) {
  const auto any = [&](std::size_t bound) { return static_cast<std::size_t>(random.below(bound)); };
  switch (random.below(3)) {
    case 0:
      return text.substr(0, any(text.size()));
    case 1:
      for (std::size_t i = 0; i <= any(4); ++i) text[any(text.size())] = static_cast<char>(random.below(256));
      return text;
    default: {
      const auto from = any(text.size());
      const auto piece = text.substr(from, any(60));
      return text.insert(any(text.size()), piece);
    }
  }
}

}  // namespace

TEST_CASE("damaged files are loaded or complained about, and never crash the program") {
  const std::filesystem::path source(EMBERLINE_SOURCE_DIR);
  const test::Workspace workspace;
  const std::vector<std::pair<std::string, std::string>> good{
      {"short-blocks.yaml", text_of(source / "config/registers/short-blocks.yaml")},
      {"float-pairs.yaml", text_of(source / "config/registers/float-pairs.yaml")},
      {"annealing-lehr.yaml", text_of(source / "config/benches/annealing-lehr.yaml")},
      {"scenario.yaml", test::kScenario}};
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", test::kTable);
  workspace.write("registers/short-blocks.yaml", good[0].second);
  workspace.write("registers/float-pairs.yaml", good[1].second);

  Random random(kSeed);
  int loaded = 0;
  int refused = 0;
  for (const auto& [name, text] : good) {
    const std::string file = "benches/" + name;
    workspace.write("benches/bench.yaml", test::replaced(test::kBench, "table.yaml", "../table.yaml"));
    workspace.write(file, text);
    REQUIRE(workspace.complaints(file).empty());
    for (int round = 0; round < kRounds; ++round) {
      CAPTURE(round);
      workspace.write(file, damaged(text, random));
      const auto complaints = workspace.complaints(file);
      complaints.empty() ? ++loaded : ++refused;
      for (const auto& complaint : complaints) {
        CHECK(complaint.find('\n') == std::string::npos);
        CHECK(complaint.starts_with("benches/"));
      }
    }
  }
  // Comments and titles may be damaged without harm; most other places may not.
  CHECK(loaded + refused == kRounds * static_cast<int>(good.size()));
  CHECK(refused > loaded);
}

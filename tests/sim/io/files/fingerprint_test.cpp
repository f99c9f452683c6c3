#include "sim/io/files/fingerprint.hpp"

#include <string>

#include <doctest/doctest.h>

#include "sim/io/files/load.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

TEST_CASE("a digest in a report is not the one that sha256sum gives for the file") {
  // NIST, Cryptographic Standards and Guidelines, Examples with Intermediate Values, SHA-256: the one-block
  // and the two-block message. The digest of nothing: NIST CAVP, SHA256ShortMsg, Len = 0.
  const struct {
    const char* text;
    const char* digest;
  } published[] = {
      {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
      {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
       "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
      {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
  };
  const test::Workspace workspace;
  for (const auto& row : published) {
    CAPTURE(row.text);
    const auto file = io::fingerprint(workspace.write("some.yaml", row.text));
    CHECK(file.name == "some.yaml");
    CHECK(file.sha256 == row.digest);
  }
  CHECK(io::fingerprint(workspace.path("nowhere.yaml")).sha256.empty());
}

TEST_CASE("a report does not tell from which scenario, bench and tables it was made") {
  const auto scenario = io::load_scenario(EMBERLINE_SOURCE_DIR "/scenarios/cable-pulled-latch.yaml");
  REQUIRE(scenario);
  const auto& files = scenario->files;
  REQUIRE(files.size() == 4);
  CHECK(files[0].name == "cable-pulled-latch.yaml");
  CHECK(files[1].name == "annealing-lehr.yaml");
  CHECK(files[2].name == "float-pairs.yaml");  // tables by their names
  CHECK(files[3].name == "short-blocks.yaml");
  for (const auto& file : files) CHECK(file.sha256.size() == 64);
}

TEST_CASE("a signal to record is taken for another, or a wrong one is not complained about") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", test::kTable);
  const auto story = [&](const std::string& record) {
    return workspace.write("scenario.yaml", std::string(test::kScenario) + record);
  };
  const auto loaded = io::load_scenario(story("record: [supply.power, soak.temperature]\n"));
  REQUIRE(loaded);
  REQUIRE(loaded->record.size() == 2);
  CHECK(loaded->record[0].name == "supply.power");
  CHECK(loaded->record[1].signal.kind == bench::SignalId::Kind::zone_temperature);
  const auto refused = io::load_scenario(story("record: [soak.temprature]\n"));
  REQUIRE_FALSE(refused);
  REQUIRE(refused.error().size() == 1);
  CHECK(refused.error()[0].message.find("record: ") == 0);
  CHECK(refused.error()[0].message.find("did you mean 'soak.temperature'?") != std::string::npos);
}

#include <sstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/report/report.hpp"
#include "tests/sim/io/report/sample_verdict.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using testing::sample_verdict;

namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  for (std::size_t at = 0; at < text.size();) {
    const auto end = text.find("\r\n", at);  // RFC 4180, section 2.1
    REQUIRE(end != std::string::npos);
    lines.push_back(text.substr(at, end - at));
    at = end + 2;
  }
  return lines;
}

}  // namespace

TEST_CASE("a spreadsheet shows trends in other columns, units or times than they had") {
  const auto lines = lines_of(io::trends_csv(sample_verdict()));
  CHECK(lines.at(0) ==
        "time_s,zone.measured low degC,zone.measured high degC,heater.load_power low kW,heater.load_power "
        "high kW,heater.state,heater.relay.K1,other.output low %,other.output high %");
  CHECK(lines.size() == 1 + 61 + 1);  // and the instant at which the state changed
  CHECK(lines.at(1) == "0,540,540.1,11.9,11.9,running,on,25,25");
  CHECK(lines.at(31) == "30,555,555.1,0,12,running,on,25,25");
  CHECK(lines.at(32) == "30.5,554.75,554.85,0,0,inhibited,off and on,25,25");
  CHECK(lines.at(47) == "45,,,0,0,inhibited,off,25,25");  // a broken sensor has no value
}

TEST_CASE("a comma or a quote in a word breaks the columns") {
  rehearsal::Verdict made;
  rehearsal::Trend trend{"heater.warnings", "", {{3, "comms-loss, \"load\""}}, {{SimTime{}, 3, 3}}};
  made.trends = {trend};
  // RFC 4180, sections 2.6 and 2.7.
  CHECK(io::trends_csv(made) == "time_s,heater.warnings\r\n0,\"comms-loss, \"\"load\"\"\"\r\n");
}

TEST_CASE("trends of two rehearsals are written over each other") {
  auto other_seed = sample_verdict();
  other_seed.seed = 4;
  auto other = sample_verdict();
  other.file_stem = "other";
  const auto names = [](const std::vector<rehearsal::Verdict>& verdicts) {
    std::string text;
    for (const auto& file : io::trend_files(verdicts)) text += file.name + " ";
    return text;
  };
  CHECK(names({sample_verdict(), other}) == "cable-pulled.csv other.csv ");
  CHECK(names({sample_verdict(), other_seed, other}) ==
        "cable-pulled-seed-3.csv cable-pulled-seed-4.csv other.csv ");
  CHECK(names({sample_verdict(), sample_verdict()}) == "cable-pulled-seed-3.csv cable-pulled-seed-3-2.csv ");
}

#include <functional>
#include <string>

#include <boost/json.hpp>
#include <doctest/doctest.h>

#include "sim/base/plain_text.hpp"
#include "sim/io/report/report.hpp"
#include "tests/sim/io/report/sample_verdict.hpp"

using namespace emberline;
using testing::sample_verdict;

namespace {

/// Without the control character in a sentence, which no run writes: it is for those who write for others.
rehearsal::Verdict plain_verdict() {
  auto verdict = sample_verdict();
  verdict.outcomes.at(1).sentence = "expected heat; it was cold";
  return verdict;
}

std::string broken(const std::string& from, const std::string& to) {
  auto text = io::verdicts_json({sample_verdict()});
  const auto at = text.find(from);
  REQUIRE_MESSAGE(at != std::string::npos, from);
  text.replace(at, from.size(), to);
  const auto read = io::verdicts_from_json(text);
  return read ? "taken" : read.error();
}

}  // namespace

TEST_CASE("the JSON of a verdict changes without anybody meaning it") {
  testing::check_golden("verdicts.json", io::verdicts_json({sample_verdict()}, io::ShardPlace{2, 3, 2}));
}

TEST_CASE("numbers of verdicts move each time they are read and written again") {
  // Some that a reader of JSON may be off by an ulp with: many digits, large exponents.
  for (const double value :
       {0.1 + 0.2, 5e49, 1.23456789012345678e-30, -98765.4321987654321, 1e308, 4.9e-300}) {
    CAPTURE(value);
    auto verdict = plain_verdict();
    verdict.trends.at(0).points.at(0).low = value;
    const auto written = io::verdicts_json({verdict});
    const auto read = io::verdicts_from_json(written);
    REQUIRE(read);
    CHECK(io::verdicts_json(read->verdicts) == written);
  }
}

TEST_CASE("a reader of the JSON finds times or results elsewhere than they were") {
  const auto parsed = boost::json::parse(io::verdicts_json({sample_verdict()})).as_object();
  CHECK_FALSE(parsed.at("passed").as_bool());
  const auto& run = parsed.at("rehearsals").as_array().at(0).as_object();
  CHECK(run.at("file").as_string() == "cable-pulled");
  CHECK(run.at("ended").to_number<double>() == 60.0);
  const auto& outcomes = run.at("expectations").as_array();
  CHECK(outcomes.at(0).as_object().at("result").as_string() == "passed");
  CHECK(outcomes.at(1).as_object().at("at").to_number<double>() == 30.5);
  CHECK(outcomes.at(2).as_object().at("result").as_string() == "could not be judged");
  CHECK(run.at("journal").as_array().at(1).as_object().at("at").to_number<double>() == 23.0);
  CHECK(run.at("closest_calls").as_array().at(0).as_object().at("longest_gap").to_number<double>() ==
        doctest::Approx(2.015));
}

TEST_CASE("what comes back from the JSON is not what went in, so merged reports show something else") {
  auto second = plain_verdict();
  second.seed = 18446744073709551615u;  // the largest there is
  second.outcomes = {{"fine", rehearsal::Outcome::Result::passed, "so it was", std::nullopt, {}}};
  second.passed = true;
  second.wall_clock = second.real_master = false;
  second.traffic.lines.front().time_share.reset();
  const std::vector<rehearsal::Verdict> verdicts{plain_verdict(), second};
  const auto text = io::verdicts_json(verdicts);
  const auto read = io::verdicts_from_json(text);
  REQUIRE_MESSAGE(read, (read ? "" : read.error()));
  CHECK(io::verdicts_json(read->verdicts, read->shard) == text);
  CHECK(io::html_report(read->verdicts, "") == io::html_report(verdicts, ""));
  CHECK(io::junit_xml(read->verdicts, "x") == io::junit_xml(verdicts, "x"));
  CHECK(io::trends_csv(read->verdicts.front()) == io::trends_csv(verdicts.front()));
}

TEST_CASE("a report from before there were poll plans is refused by those who merge") {
  const auto text = io::verdicts_json({sample_verdict()});
  auto older = boost::json::parse(text).as_object();
  auto& traffic = older.at("rehearsals").as_array().at(0).as_object().at("traffic").as_object();
  REQUIRE(traffic.erase("plans") == 1);
  const auto read = io::verdicts_from_json(boost::json::serialize(older));
  REQUIRE_MESSAGE(read, (read ? "" : read.error()));
  CHECK(read->verdicts.front().plan_reviews.empty());
  CHECK(read->verdicts.front().traffic.pairs.size() == sample_verdict().traffic.pairs.size());
  CHECK(broken("\"plans\":[", "\"plans\":3,\"plants\":[").find("plans: expected a list") !=
        std::string::npos);
}

TEST_CASE("a file that is broken or of somebody else is merged, or refused without saying why") {
  const auto error_of = [](const std::string& text) {
    const auto read = io::verdicts_from_json(text);
    return read ? "taken" : read.error();
  };
  CHECK(error_of("") == "is empty, expected what 'emberline rehearse --json' writes");
  CHECK(error_of("<html>") == "is not JSON, expected what 'emberline rehearse --json' writes");
  CHECK(error_of("[1, 2]") == "holds no verdicts, expected what 'emberline rehearse --json' writes");
  CHECK(error_of("{\"format\": \"weather-3\"}") ==
        "is of the format 'weather-3', expected what 'emberline rehearse --json' writes");
  CHECK(error_of("{\"format\": \"emberline-verdicts-1\", \"rehearsals\": []}") ==
        "is of another version of emberline: its format is 'emberline-verdicts-1', expected "
        "'emberline-verdicts-2'");
  CHECK(error_of("{\"format\": \"emberline-verdicts-2\"}") == "shard is missing");
  CHECK(error_of("{\"format\": \"emberline-verdicts-2\", \"shard\": null}") == "rehearsals is missing");
  const auto whole = io::verdicts_json({sample_verdict()});
  CHECK(error_of(whole.substr(0, whole.size() / 2)) ==
        "ends in the middle, expected what 'emberline rehearse --json' writes");
  CHECK(broken("\"seed\":3", "\"seed\":-3") ==
        "rehearsals[0].seed: expected a whole number from 0 to 18446744073709551615");
  CHECK(broken("\"result\":\"failed\"", "\"result\":\"red\"") ==
        "rehearsals[0].expectations[1].result: expected passed, failed or could not be judged");
  CHECK(broken("\"passed\":false,\n\"ended\"", "\"passed\":true,\n\"ended\"") ==
        "rehearsals[0].passed: expected what the expectations say");
  CHECK(broken("\"ended\":60", "\"ended\":1e300") ==
        "rehearsals[0].ended: expected a time in seconds from the start of the run");
  CHECK(broken("[[0,540,540.1]", "[[0,540]") ==
        "rehearsals[0].trends[0].points[0]: expected a time, a lowest and a highest value");
  CHECK(broken("[[0,540,540.1]", "[[2.5,540,540.1]") ==
        "rehearsals[0].trends[0].points[1]: expected times that never go back");
  CHECK(broken("\"of\":[0,1]", "\"of\":[0,9]") ==
        "rehearsals[0].traffic.pairs[0].merges[0].of[1]: expected the place of one of the blocks");
}

TEST_CASE("a file of verdicts steers the terminal it is complained about or reported on") {
  const auto error_of_format = [](const std::string& format) {
    const auto read = io::verdicts_from_json("{\"format\": \"" + format + "\"}");
    return read ? "taken" : read.error();
  };
  CHECK(error_of_format("we\\u001b[2Jather\\n\x7F-3") ==
        "is of the format 'we [2Jather  -3', expected what 'emberline rehearse --json' writes");
  CHECK(error_of_format("emberline-verdicts-\\u009b9" + std::string(1000, '9')) ==
        "is of another version of emberline: its format is 'emberline-verdicts-  " + std::string(39, '9') +
            "...', expected 'emberline-verdicts-2'");
  CHECK(broken("\"exceptions\":{", "\"exceptions\":{\"\\u001b[31m\":1,") ==
        "rehearsals[0].traffic.pairs[0].exceptions. [31m: expected exception codes as keys");

  auto verdict = plain_verdict();
  verdict.title += "\x1b[2J\xC2\x9B";
  verdict.outcomes.at(1).sentence += "\x1b]0;\nall passed\a";
  verdict.why = "Two lines,\nthe second\x7F";
  const auto read = io::verdicts_from_json(io::verdicts_json({verdict}));
  REQUIRE_MESSAGE(read, (read ? "" : read.error()));
  const auto shown = io::terminal_report(read->verdicts.front(), false) + io::summary_text(read->verdicts);
  CHECK(plain_lines(shown) == shown);
  CHECK(shown.find("\nall passed") == std::string::npos);
  CHECK(read->verdicts.front().why == "Two lines,\nthe second ");
}

TEST_CASE("a character that XML has not makes a JUnit file that nobody reads") {
  auto verdict = plain_verdict();
  verdict.title =
      "a\xEF\xBF\xBF"
      "b\xEF\xBF\xBE"
      "c\xEF\xBF\xBD";  // XML 1.0, 2.2: U+FFFD is one
  const auto text = io::junit_xml({verdict}, "x");
  CHECK(text.find("a b c\xEF\xBF\xBD") != std::string::npos);
}

TEST_CASE("a file of verdicts says where its curves are written: outside of the folder for them") {
  for (const std::string name : {"../out", "/tmp/out", "a/b", "", "a\\nb", "\\u0000", "\\u009b"})
    CHECK(broken("\"file\":\"cable-pulled\"", "\"file\":\"" + name + "\"") ==
          "rehearsals[0].file: expected the name of a file, without folder and ending");
  CHECK(broken("\"file\":\"cable-pulled\"", "\"file\":\"..\"") == "taken");  // "...csv" is in the folder
}

TEST_CASE("which part of a run a file holds is lost, so that nobody sees that a part is missing") {
  const auto text = io::verdicts_json({plain_verdict()}, io::ShardPlace{2, 5, 12});
  const auto read = io::verdicts_from_json(text);
  REQUIRE(read);
  REQUIRE(read->shard);
  CHECK(read->shard->part == 2);
  CHECK(read->shard->of == 5);
  CHECK(read->shard->listed == 12);
  CHECK(io::verdicts_json(read->verdicts, read->shard) == text);
  CHECK_FALSE(io::verdicts_from_json(io::verdicts_json({sample_verdict()}))->shard);
  for (const io::ShardPlace wrong : {io::ShardPlace{0, 5, 12}, io::ShardPlace{6, 5, 12}}) {
    const auto refused = io::verdicts_from_json(io::verdicts_json({}, wrong));
    REQUIRE_FALSE(refused);
    CHECK(refused.error() == "shard.part: expected the number of one of the parts");
  }
}

TEST_CASE("a damaged file of verdicts brings the program down") {
  const auto whole = io::verdicts_json({sample_verdict()});
  // Every key in turn has another kind of value, or is gone; every outcome but a crash will do.
  const auto document = boost::json::parse(whole);
  std::size_t tried = 0;
  const std::function<void(boost::json::value&, const std::function<void()>&)> damage =
      [&](boost::json::value& value, const std::function<void()>& ask) {
        const auto kept = value;
        for (const auto& other :
             {boost::json::value(nullptr), boost::json::value(-1), boost::json::value("x"),
              boost::json::value(boost::json::array{}), boost::json::value(1e308)}) {
          value = other;
          ask();
          ++tried;
        }
        value = kept;
        if (value.is_object())
          for (auto& member : value.get_object()) damage(member.value(), ask);
        if (value.is_array())
          for (std::size_t i = 0; i < value.get_array().size() && i < 2; ++i)
            damage(value.get_array()[i], ask);
      };
  auto changed = document;
  damage(changed, [&] {
    const auto read = io::verdicts_from_json(boost::json::serialize(changed));
    if (read) (void)io::html_report(read->verdicts, "");
    if (!read) CHECK(read.error().find('\n') == std::string::npos);
  });
  CHECK(tried > 500);
}

// Every shipped scenario, opened as a lesson and walked through: by a trainer who never waits, and with a
// class that talks.
#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

#include "tests/sim/io/panel/lesson_course.hpp"
#include "tests/support/this_build.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

std::vector<std::string> all_shipped() {
  std::vector<std::string> names;
  for (const auto& file : std::filesystem::directory_iterator(EMBERLINE_SOURCE_DIR "/scenarios"))
    if (file.path().extension() == ".yaml") names.push_back(file.path().stem().string());
  std::sort(names.begin(), names.end());
  // A sanitizer looks at the shipped lessons and at some of the rest, which walk the same ways.
  std::size_t place = 0;
  if (testing::sanitized())
    std::erase_if(names, [&place](const std::string& name) {
      return !name.starts_with("lesson-") && ++place % 9 != 1;
    });
  return names;
}

}  // namespace

TEST_CASE(
    "a shipped scenario cannot be walked through as a lesson, or its lesson fails at some pace of the "
    "trainer's") {
  const auto names = all_shipped();
  REQUIRE(names.size() >= (testing::sanitized() ? 6u : 42u));
  std::size_t looked_at = 0;
  for (const auto& name : names) {
    for (const Duration talk : {Duration{}, Duration{4s}}) {
      CAPTURE(name);
      CAPTURE(talk.count());
      const auto scenario = test::shipped_lesson(name);
      const bool made = scenario.lesson_is_made;
      const auto expected = scenario.expectations.size();
      test::Course course(scenario, talk);
      course.start();
      course.walk(true);
      const auto state = course.state();
      REQUIRE(state.at("done").as_bool());
      const auto& verdict = state.at("verdict").as_object();
      CHECK(verdict.at("outcomes").as_array().size() == expected);
      ++looked_at;
      if (made) {
        CHECK(verdict.at("passed").is_null());
      } else {
        CHECK_MESSAGE(verdict.at("passed").as_bool(), boost::json::serialize(verdict));
      }
    }
  }
  CHECK(looked_at == 2 * names.size());
}

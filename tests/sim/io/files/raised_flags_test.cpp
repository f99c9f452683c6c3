#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/files/words.hpp"

using namespace emberline;

namespace {

/// The enumerators that the sources of the unit name: "comms_loss" of every `Warning::comms_loss`.
std::set<std::string> named_in_unit(const std::string& enumeration) {
  std::set<std::string> names;
  const std::regex use(enumeration + "::([a-z_]+)");
  for (const auto& entry : std::filesystem::directory_iterator(EMBERLINE_SOURCE_DIR "/sim/unit")) {
    std::ifstream file(entry.path());
    const std::string text(std::istreambuf_iterator<char>(file), {});
    for (std::sregex_iterator it(text.begin(), text.end(), use), end; it != end; ++it) names.insert((*it)[1]);
  }
  return names;
}

std::set<std::string> as_enumerators(const std::vector<std::string>& words) {
  std::set<std::string> names;
  for (auto word : words) {
    std::replace(word.begin(), word.end(), '-', '_');
    names.insert(word);
  }
  return names;
}

}  // namespace

TEST_CASE("what a relay or an expectation may wait for is what units raise, no more and no less") {
  CHECK(as_enumerators(io::raised_words(registers::warning_words())) == named_in_unit("Warning"));
  CHECK(as_enumerators(io::raised_words(registers::trip_words())) == named_in_unit("Trip"));
}

TEST_CASE("words that are no flags are all known") {
  CHECK(io::raised_words(registers::state_words()).size() == registers::state_words().size());
}

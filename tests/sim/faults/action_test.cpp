#include "sim/faults/action.hpp"

#include <filesystem>
#include <set>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/heated_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

double value(const bench::Bench& bench, const char* name) {
  return bench.value(*bench::find_signal(bench.spec(), name), SimTime{1s});
}

}  // namespace

TEST_CASE("every action has a file of its own that is named after it") {
  std::set<std::string> files;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(EMBERLINE_SOURCE_DIR "/sim/faults"))
    if (entry.path().extension() == ".cpp" && !entry.path().stem().string().starts_with("action"))
      files.insert(entry.path().stem());
  std::set<std::string> words;
  for (const auto* kind : faults::all_actions()) words.emplace(kind->word);
  CHECK(files == words);
}

TEST_CASE("each action does what its word says") {
  struct Case {
    const char* text;
    const char* signal;
    double before, after;
  };
  const Case cases[] = {
      {"cut field", "field.state", 0, 1},
      {"open main", "main.closed", 1, 0},
      {"close heater.terminal.reset", "heater.terminal.reset", 0, 1},
      {"cycle heater.terminal.enable", "heater.terminal.enable", 1, 0},
      {"power_off heater", "heater.state", 3, 0},
  };
  for (const auto& row : cases) {
    CAPTURE(row.text);
    bench::Bench bench(testing::heated_bench());
    const auto action = faults::parse_action(bench.spec(), row.text);
    REQUIRE(action);
    CHECK(action->text() == row.text);
    CHECK(value(bench, row.signal) == row.before);
    faults::carry_out(bench, *action, SimTime{1s});
    CHECK(value(bench, row.signal) == row.after);
  }
}

TEST_CASE("restore, release and power_on undo what was done") {
  bench::Bench bench(testing::heated_bench());
  const auto perform = [&bench](const char* text) {
    const auto action = faults::parse_action(bench.spec(), text);
    REQUIRE(action);
    faults::carry_out(bench, *action, SimTime{1s});
  };
  perform("cut ethernet");
  perform("open heater.terminal.enable");
  perform("power_off heater");
  perform("restore: ethernet");  // as it stands in a scenario
  perform("  release   heater.terminal.enable ");
  perform("power_on heater");
  CHECK(value(bench, "ethernet.state") == 0.0);
  CHECK(value(bench, "heater.terminal.enable") == 1.0);
  CHECK(value(bench, "heater.state") == static_cast<double>(registers::State::starting));
}

TEST_CASE("what cannot be done is refused with the nearest known name") {
  const auto spec = testing::heated_bench();
  struct Case {
    const char* text;
    const char* part;
  };
  const Case cases[] = {
      {"", "expected an action such as"},
      {"cutt field", "did you mean 'cut'?"},
      {"explode field", "unknown action 'explode'? Known: cut, restore"},
      {"cut feild", "did you mean 'field'?"},
      {"cut", "'cut' needs a line of the bench, found ''"},
      {"cut heater", "'cut' needs a line of the bench"},
      {"cycle heater.terminal.enabel", "did you mean 'heater.terminal.enable'?"},
      {"power_off main", "'power_off' needs a unit of the bench"},
      {"cut field now", "'cut' has no key 'now'; it takes way, for"},
      {"cut field for", "'for': expected a time such as '200 ms', found ''"},
      {"cut field for 0 s", "'for': expected a time above 0 s, found '0 s'"},
      {"cut field way sideways", "'way': expected one of both, to-units, to-masters, found 'sideways'"},
      {"cycle main for 3 s", "'cycle' is over at once and takes no 'for'"},
      {"restore field only rain", "'only': expected one of"},
  };
  for (const auto& [text, part] : cases) {
    CAPTURE(text);
    const auto action = faults::parse_action(spec, text);
    REQUIRE_FALSE(action);
    CHECK_MESSAGE(action.error().find(part) != std::string::npos, action.error());
  }
}

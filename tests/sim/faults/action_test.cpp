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
      {"cut field for 1 s for 2 s", "'for' stands twice"},
      {"cut field for", "'for': expected a time such as '200 ms', found ''"},
      {"cut field for 0 s", "'for': expected a time above 0 s, found '0 s'"},
      {"cut field way sideways", "'way': expected one of both, to-units, to-masters, found 'sideways'"},
      {"cycle main for 3 s", "'cycle' is over at once and takes no 'for'"},
      {"restore field only rain", "'only': expected one of"},
      {"delay field", "'delay' needs 'by': how long every frame is held up"},
      {"delay field by 0 s", "'by': expected a time above 0 s, found '0 s'"},
      {"delay field by 1 s jitter -1 s", "'jitter': expected a time of 0 s or more, found '-1 s'"},
      {"drop_answers field share 30", "'share': expected a share from 0 % to 100 %, found '30'"},
      {"drop_answers field share 101 %", "'share': expected a share from 0 % to 100 %, found '101 %'"},
      {"delai field by 1 s", "did you mean 'delay'?"},
      {"truncate field keep 0", "'keep': expected a whole number from 1 to 259, found '0'"},
      {"truncate field keep 1.5", "'keep': expected a whole number from 1 to 259, found '1.5'"},
      {"wrong_id field as 248", "'as': expected a whole number from 1 to 247, found '248'"},
      {"wrong_id field", "'wrong_id' needs 'as'"},
      {"bit_errors field rate 2", "'rate': expected a number from 0 to 1, found '2'"},
      {"bit_errors ethernet rate 0.1",
       "'bit_errors' is for lines that carry RTU frames; 'ethernet' is Modbus TCP, where no byte comes "
       "damaged"},
      {"noise ethernet", "'ethernet' is Modbus TCP"},
      {"echo ethernet", "'ethernet' is Modbus TCP"},
      {"collision ethernet id 1", "'ethernet' is Modbus TCP"},
      {"collision field id 0", "'id': expected a whole number from 1 to 247, found '0'"},
      {"tcp_reset field",
       "'tcp_reset' is for lines that are reached over TCP; 'field' is a serial line, which has no "
       "connections"},
      {"half_open field", "'field' is a serial line"},
      {"tcp_reset ethernet for 1 s", "'tcp_reset' is over at once and takes no 'for'"},
      {"tcp_silent feild", "needs a line that is reached over TCP, found 'feild'"},
      {"noise field place under", "'place': expected one of anywhere, before, over, behind, found 'under'"},
      {"stuck_busy field", "'stuck_busy' needs a unit of the bench"},
  };
  for (const auto& [text, part] : cases) {
    CAPTURE(text);
    const auto action = faults::parse_action(spec, text);
    REQUIRE_FALSE(action);
    CHECK_MESSAGE(action.error().find(part) != std::string::npos, action.error());
  }
}

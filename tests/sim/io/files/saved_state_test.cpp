#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/io/files/state_file.hpp"
#include "sim/io/report/report.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

namespace {

/// A state of the sample bench.
constexpr const char* kState = R"({
  "format": "emberline-bench-state-1",
  "bench": "Test bench",
  "taken_at_s": 60,
  "zones": {
    "soak": { "temperature_degC": 610.5, "sensor": { "shown_degC": 609.25 } }
  },
  "units": {
    "soak-heater": { "energy_J": 3600000, "run_time_s": 1200.5 }
  }
}
)";

/// A workspace with the sample files, in which the scenario starts from state.json.
class Started {
 public:
  Started() {
    workspace_.write("table.yaml", test::kTable);
    workspace_.write("bench.yaml", test::kBench);
    workspace_.write("scenario.yaml",
                     test::replaced(test::kScenario, "clock: stepped\n", "start_from: state.json\n"));
    state(kState);
  }
  void state(const std::string& text) const { workspace_.write("state.json", text); }
  void bench(const std::string& text) const { workspace_.write("bench.yaml", text); }
  [[nodiscard]] std::string complaint() const {
    std::string all;
    for (const auto& line : workspace_.complaints("scenario.yaml")) all += (all.empty() ? "" : "\n") + line;
    return all;
  }
  [[nodiscard]] const test::Workspace& workspace() const { return workspace_; }

 private:
  test::Workspace workspace_;
};

}  // namespace

TEST_CASE("a scenario that starts from a state has all of it, and the state's file among its fingerprints") {
  const Started started;
  CHECK(started.complaint().empty());
  const auto loaded = io::load_scenario(started.workspace().path("scenario.yaml"));
  REQUIRE(loaded);
  REQUIRE(loaded->starts_from);
  const auto& state = *loaded->starts_from;
  CHECK(state.bench == "Test bench");
  CHECK(to_seconds(state.taken_at) == 60.0);
  CHECK(state.zones.at(0).heat.temperature_degC == 610.5);
  CHECK(state.zones.at(0).heat.sensor.shown_degC == 609.25);
  CHECK(state.units.at(0).energy_J == 3.6e6);
  CHECK(to_seconds(state.units.at(0).run_time) == 1200.5);
  CHECK(loaded->files.back().name == "state.json");
  CHECK(loaded->files.back().sha256.size() == 64);
}

TEST_CASE("what was written of a state is read back to the last digit") {
  auto loaded = io::load_bench(EMBERLINE_SOURCE_DIR "/tests/sim/io/files/samples/bench.yaml");
  REQUIRE(loaded);
  bench::Bench bench(std::move(loaded).value());
  const auto state = bench.save_state(SimTime{std::chrono::milliseconds{12'345}});
  const auto text = io::bench_state_json(state);
  const test::Workspace workspace;
  io::Problems problems;
  const auto read = io::read_state(workspace.write("state.json", text), problems);
  CHECK(problems.empty());
  REQUIRE(read);
  CHECK(bench::problems(*read, bench.spec()).empty());
  CHECK(io::bench_state_json(*read) == text);
  CHECK(read->zones.at(0).heat.sensor.on_its_way.size() == state.zones.at(0).heat.sensor.on_its_way.size());
  CHECK(read->zones.at(1).heat.wall_degC == state.zones.at(1).heat.wall_degC);
  CHECK(read->units.at(0).heat_sink_degC == state.units.at(0).heat_sink_degC);
}

TEST_CASE("a state of another bench is refused where the scenario names it, with what both have") {
  struct Case {
    const char* what;
    const char* from;
    const char* to;
    const char* expected;
  };
  const Case cases[] = {
      {"another zone", "\"soak\"", "\"kiln\"",
       "scenario.yaml:4:13: start_from: state.json (of 'Test bench'): zone 'soak' of the bench is not in the "
       "state, which has kiln\n"
       "scenario.yaml:4:13: start_from: state.json (of 'Test bench'): zone 'kiln' of the state is not on the "
       "bench, which has soak"},
      {"no zones",
       "\n    \"soak\": { \"temperature_degC\": 610.5, \"sensor\": { \"shown_degC\": 609.25 } }\n  ", "",
       "scenario.yaml:4:13: start_from: state.json (of 'Test bench'): zone 'soak' of the bench is not in the "
       "state, which has no zones"},
      {"another unit", "\"soak-heater\"", "\"kiln-heater\"",
       "scenario.yaml:4:13: start_from: state.json (of 'Test bench'): unit 'soak-heater' of the bench is not "
       "in the state, which has kiln-heater\n"
       "scenario.yaml:4:13: start_from: state.json (of 'Test bench'): unit 'kiln-heater' of the state is not "
       "on the bench, which has soak-heater"},
      {"a wall", "610.5,", "610.5, \"wall_degC\": [600, 300],",
       "scenario.yaml:4:13: start_from: state.json (of 'Test bench'): zone 'soak' has no wall on the bench, "
       "and a wall of 2 cells in the state"},
      {"dead time", "609.25 }",
       "609.25, \"on_its_way\": [{ \"for_s\": 4, \"from_degC\": 1, \"from_K_per_s\": 0, \"to_degC\": 1, "
       "\"to_K_per_s\": 0 }] }",
       "scenario.yaml:4:13: start_from: state.json (of 'Test bench'): zone 'soak' has a sensor with a dead "
       "time of 0 s on the bench, and of 4 s in the state"},
      {"a heat sink", "\"energy_J\"", "\"heat_sink_degC\": 40, \"energy_J\"",
       "scenario.yaml:4:13: start_from: state.json (of 'Test bench'): unit 'soak-heater' has no heat sink on "
       "the bench, and the temperature of one in the state"},
  };
  for (const auto& [what, from, to, expected] : cases) {
    CAPTURE(std::string(what));
    const Started started;
    started.state(test::replaced(kState, from, to));
    CHECK(started.complaint() == expected);
  }
}

TEST_CASE("a state that is broken is refused in one line, where it is broken") {
  struct Case {
    const char* what;
    const char* from;
    const char* to;
    const char* expected;
  };
  const Case cases[] = {
      {"another format", "state-1", "state-7",
       "state.json:2:13: format: expected emberline-bench-state-1, found 'emberline-bench-state-7'"},
      {"no format", "\"format\": \"emberline-bench-state-1\",\n", "",
       "scenario.yaml:4:13: start_from: state.json: this is no saved state of a bench; expected a file "
       "written "
       "by 'emberline rehearse --save-state FILE'"},
      {"a temperature below absolute zero", "610.5", "-610.5",
       "state.json:6:35: temperature_degC: expected a temperature in degC, a number from -273.15 to 100000, "
       "found '-610.5'"},
      {"a temperature that is none", "610.5", "\"hot\"",
       "state.json:6:35: temperature_degC: expected a plain number without a unit, found 'hot'"},
      {"an unknown key", "\"shown_degC\"", "\"shown_degF\"",
       "state.json:6:54: unknown key 'shown_degF', did you mean 'shown_degC'?"},
      {"a key left out", ", \"run_time_s\": 1200.5", "",
       "state.json:9:5: soak-heater: key 'run_time_s' is missing"},
      {"energy below nothing", "3600000", "-1",
       "state.json:9:34: energy_J: expected J, a number from 0 to 1e15, found '-1'"},
      {"zones that are a list",
       "{\n    \"soak\": { \"temperature_degC\": 610.5, \"sensor\": { \"shown_degC\": 609.25 } }\n  }", "[]",
       "state.json:5:12: zones: expected zones by name, found none"},
      {"no time at all", "609.25 }",
       "609.25, \"on_its_way\": [{ \"for_s\": 0, \"from_degC\": 1, \"from_K_per_s\": 0, \"to_degC\": 1, "
       "\"to_K_per_s\": 0 }] }",
       "state.json:6:102: for_s: expected seconds above 0, found '0'"},
      {"half a file",
       ",\n  \"units\": {\n    \"soak-heater\": { \"energy_J\": 3600000, \"run_time_s\": 1200.5 }\n  }\n}",
       "", "state.json:1:1: this '{' is not closed"},
  };
  for (const auto& [what, from, to, expected] : cases) {
    CAPTURE(std::string(what));
    const Started started;
    started.state(test::replaced(kState, from, to));
    CHECK(started.complaint() == expected);
  }
}

TEST_CASE("a state that is not there, or is another kind of file, is refused where it is named") {
  const Started started;
  started.workspace().write(
      "scenario.yaml", test::replaced(test::kScenario, "clock: stepped\n", "start_from: states/hot.json\n"));
  CHECK(started.complaint() == "scenario.yaml:4:13: start_from: states/hot.json: no such file");
  started.workspace().write("scenario.yaml",
                            test::replaced(test::kScenario, "clock: stepped\n", "start_from: bench.yaml\n"));
  CHECK(started.complaint() ==
        "scenario.yaml:4:13: start_from: bench.yaml: this is no saved state of a bench; expected a file "
        "written "
        "by 'emberline rehearse --save-state FILE'");
  started.workspace().write(
      "scenario.yaml", test::replaced(test::kScenario, "clock: stepped\n", "start_from: [state.json]\n"));
  CHECK(started.complaint() == "scenario.yaml:4:13: start_from: expected a text, found a list");
}

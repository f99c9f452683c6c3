// How hot a bench is, from one run to the next.
#include <cmath>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/process.hpp"

using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::TemporaryFolder;

namespace {

const std::string kTables = std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/";

/// Two zones that exchange heat; one has a wall and a slow sensor.
std::string bench_file() {
  return "bench: Small furnace\n"
         "supply: { system: three-phase, voltage: 400 V, frequency: 50 Hz }\n"
         "lines: { field: { pty: /tmp/emberline/small-furnace } }\n"
         "zones:\n"
         "  soak: { mass: 4 kg, specific_heat: 900 J/kgK, ambient: 20 degC, sensor: { lag: 2 s, dead_time: 3 "
         "s },"
         " wall: { area: 1 m2, layers: [{ thickness: 60 mm, conductivity: 0.2 W/mK, density: 300 kg/m3, "
         "specific_heat: 1 kJ/kgK }] } }\n"
         "  vestibule: { mass: 2 kg, specific_heat: 900 J/kgK, loss: 2 W/K, ambient: 20 degC }\n"
         "neighbours: [{ between: [soak, vestibule], conductance: 4 W/K, opening: 0.02 m2 }]\n"
         "units:\n"
         "  heater:\n"
         "    id: 1\n"
         "    lines: [field]\n"
         "    registers: " +
         kTables +
         "short-blocks.yaml\n"
         "    rating: { voltage: 400 V, current: 32 A }\n"
         "    firing: { mode: phase-angle }\n"
         "    control: { variable: power, full_scale: 9 kW }\n"
         "    comms_loss: { timeout: 20 s, policy: latch-to-inhibit }\n"
         "    load: { connection: star-4-wire, cold_resistance: 16 ohm, heats: soak, element: { "
         "heat_capacity: "
         "500 J/K, coupling: 40 W/K } }\n";
}

std::string story(const std::string& top, const std::string& setpoint, const std::string& expect) {
  return "scenario: Hot or not\nbench: bench.yaml\n" + top +
         "masters:\n  plc: { lines: [field], timeout: 2 s, retries: 2, program: [ { at: 0 s, write: { "
         "heater.setpoint: " +
         setpoint + " } }, { every: 500 ms, read: heater.load_power } ] }\nexpect:\n" + expect;
}

/// The number behind a key of a saved state, the first after `from`.
double number(const std::string& json, const std::string& key, const std::string& from) {
  const auto at = json.find("\"" + key + "\": ", json.find("\"" + from + "\": {"));
  REQUIRE_MESSAGE(at != std::string::npos, json);
  return std::stod(json.substr(at + key.size() + 4));
}

}  // namespace

TEST_CASE("a story cut in two, the second half from the state of the first, ends as hot as the whole") {
  const TemporaryFolder folder;
  folder.write("bench.yaml", bench_file());
  const std::string any = "  - { name: runs, that: { heater.state: running } }\n";
  const auto state_of = [&](const std::string& name, const std::string& text) {
    const auto run = run_emberline(
        {"rehearse", folder.write(name + ".yaml", text), "--save-state", folder.file(name + ".json")});
    CHECK_MESSAGE(run.status == 0, (run.out + run.err));
    return read_file(folder.file(name + ".json"));
  };
  const auto whole = state_of("whole", story("ends: 130 s\n", "60 %", any));
  state_of("first", story("ends: 80 s\n", "60 %", any));
  const auto second = state_of("second", story("start_from: first.json\nends: 50 s\n", "60 %", any));
  for (const auto& [key, of] :
       {std::pair("temperature_degC", "soak"), std::pair("shown_degC", "soak"),
        std::pair("temperature_degC", "vestibule"), std::pair("element_degC", "heater"),
        std::pair("energy_J", "heater"), std::pair("run_time_s", "heater")}) {
    CAPTURE(std::string(key));
    CAPTURE(std::string(of));
    // The second half begins with its ramp, which costs it a few mains cycles of heat.
    CHECK(number(second, key, of) == doctest::Approx(number(whole, key, of)).epsilon(0.01));
    CHECK(number(second, key, of) > 30.0);
  }
  CHECK(second.find("\"taken_at_s\": 50,") != std::string::npos);
  // A sensor that has yet to see what came before the cut shows it afterwards, first of all.
  CHECK(second.find("\"on_its_way\"") != std::string::npos);
  CHECK(second.find("\"wall_degC\"") != std::string::npos);
}

TEST_CASE("--plant-speed leaves out zones with walls and neighbours, or does not say what it costs") {
  const TemporaryFolder folder;
  folder.write("bench.yaml", bench_file());
  // 9 kW into 4 kg are 2.5 K/s at the most: in real time neither zone would get there.
  const auto path = folder.write(
      "story.yaml",
      story("clock: wall\nends: 4 s\n", "100 %",
            "  - { name: soak is hot, that: { soak.measured: { above: 150 degC } } }\n"
            "  - { name: its neighbour is warm, that: { vestibule.temperature: { above: 35 degC } } }\n"));
  const auto slow = run_emberline({"rehearse", path});
  CHECK_MESSAGE(slow.status == 1, (slow.out + slow.err));
  CHECK(slow.out.find("FAILED  0 of 2") != std::string::npos);
  const auto quick = run_emberline({"rehearse", path, "--plant-speed", "100"});
  CHECK_MESSAGE(quick.status == 0, (quick.out + quick.err));
  CHECK_MESSAGE(quick.out.find("Zones, walls and sensors run 100") != std::string::npos, quick.out);
}

TEST_CASE("a state that cannot be written is said, and so is one that does not fit") {
  const TemporaryFolder folder;
  folder.write("bench.yaml", bench_file());
  const std::string any = "  - { name: runs, that: { heater.state: running } }\n";
  const auto path = folder.write("story.yaml", story("ends: 2 s\n", "60 %", any));
  const auto nowhere = run_emberline({"rehearse", path, "--save-state", "/nowhere/state.json"});
  CHECK(nowhere.status != 0);
  CHECK_MESSAGE(nowhere.err.find("/nowhere") != std::string::npos, nowhere.err);
  const auto two = run_emberline({"rehearse", path, path, "--save-state", folder.file("state.json")});
  CHECK(two.status == 2);
  CHECK_MESSAGE(two.err.find("--save-state: a state is of one rehearsal, found 2") != std::string::npos,
                two.err);
  const auto unfit = run_emberline(
      {"rehearse", folder.write("other.yaml", story("start_from: " + std::string(EMBERLINE_SOURCE_DIR) +
                                                        "/scenarios/states/kiln-at-soak.json\nends: 2 s\n",
                                                    "60 %", any))});
  CHECK(unfit.status == 2);
  CHECK_MESSAGE(
      unfit.err.find("(of 'Bell kiln, one zone'): zone 'soak' of the bench is not in the state, which "
                     "has kiln") != std::string::npos,
      unfit.err);
}

TEST_CASE("nothing tells that a run began hot, or that the heat is another bench's") {
  const TemporaryFolder folder;
  folder.write("bench.yaml", bench_file());
  const std::string any = "  - { name: runs, that: { heater.state: running } }\n";
  const auto first = folder.write("first.yaml", story("ends: 2 s\n", "60 %", any));
  REQUIRE(run_emberline({"rehearse", first, "--save-state", folder.file("hot.json")}).status == 0);
  const auto second = folder.write("second.yaml", story("start_from: hot.json\nends: 2 s\n", "60 %", any));
  const std::string title = bench_file().substr(7, bench_file().find('\n') - 7);
  const auto same = run_emberline({"rehearse", second});
  CHECK_MESSAGE(same.out.find("starts as hot as '" + title + "' was after 2 s") != std::string::npos,
                same.out);
  CHECK(same.out.find("warning:") == std::string::npos);
  folder.write("bench.yaml", "bench: Another kiln\n" + bench_file().substr(bench_file().find('\n') + 1));
  const auto other = run_emberline({"rehearse", second, "--json", folder.file("out.json")});
  CHECK_MESSAGE(other.status == 0, other.err);
  CHECK(read_file(folder.file("out.json"))
            .find("warning: this heat is of another bench, '" + title + "'; this one is 'Another kiln'") !=
        std::string::npos);
}

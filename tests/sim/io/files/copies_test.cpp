#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using Lines = std::vector<std::string>;

namespace {

constexpr const char* kPlant = R"(bench: A hall of ovens
supply: { system: three-phase, voltage: 400 V, frequency: 50 Hz }
contactors: { main: { feeds: [heater] } }
lines:
  hall: { tcp: 127.0.0.1:15001, copies: 3 }
  field: { pty: /tmp/emberline/hall, copies: 3 }
  office: { tcp: 127.0.0.1:0 }
zones:
  oven: { copies: 7, mass: 180 kg, specific_heat: 900 J/kgK, loss: 38 W/K, element: { heat_capacity: 9 kJ/K, coupling: 220 W/K } }
  hood: { mass: 18 kg, specific_heat: 900 J/kgK, loss: 38 W/K }
load_sharing:
  ring: { units: [heater] }
units:
  heater:
    copies: 7
    id: 11
    lines: [hall, field]
    registers: table.yaml
    rating: { voltage: 400 V, current: 63 A }
    firing: { mode: burst, base: 2 s }
    control: { variable: open-loop }
    comms_loss: { lines: [field], timeout: 3 s, policy: latch-to-inhibit }
    load: { connection: star-4-wire, cold_resistance: 22 ohm, heats: oven }
    local_setpoint: 40 %
  fan:
    copies: 2
    id: 1
    lines: [office]
    registers: table.yaml
    rating: { voltage: 400 V, current: 63 A }
    firing: { mode: phase-angle }
    control: { variable: open-loop }
    comms_loss: { timeout: 3 s, policy: latch-to-inhibit }
    load: { connection: star-4-wire, cold_resistance: 22 ohm, heats: hood }
    local_setpoint: heater-2.output
)";

std::string written(const test::Workspace& workspace, const std::string& from = "",
                    const std::string& to = "") {
  workspace.write("table.yaml", test::kTable);
  return workspace.write("plant.yaml", from.empty() ? kPlant : test::replaced(kPlant, from, to));
}

}  // namespace

TEST_CASE("a plant of many units alike is written once") {
  const test::Workspace workspace;
  const auto loaded = io::load_bench(written(workspace));
  REQUIRE(loaded);
  const bench::BenchSpec& spec = *loaded;

  SUBCASE("lines count their ports and paths up") {
    REQUIRE(spec.lines.size() == 7);
    CHECK(spec.lines[0].name == "hall-1");
    CHECK(spec.lines[0].port == 15001);
    CHECK(spec.lines[2].name == "hall-3");
    CHECK(spec.lines[2].port == 15003);
    CHECK(spec.lines[3].path == "/tmp/emberline/hall-1");
    CHECK(spec.lines[5].path == "/tmp/emberline/hall-3");
    CHECK(spec.lines[6].port == 0);
  }
  SUBCASE("units are spread over the lines in order, each with a zone, ids counting anew on each line") {
    REQUIRE(spec.units.size() == 9);
    struct Expected {
      const char* name;
      int id;
      const char* line;
      const char* other_line;
      const char* zone;
    };
    // Seven on three lines: three, three and the rest.
    const Expected expected[] = {
        {"heater-1", 11, "hall-1", "field-1", "oven-1"}, {"heater-2", 12, "hall-1", "field-1", "oven-2"},
        {"heater-3", 13, "hall-1", "field-1", "oven-3"}, {"heater-4", 11, "hall-2", "field-2", "oven-4"},
        {"heater-5", 12, "hall-2", "field-2", "oven-5"}, {"heater-6", 13, "hall-2", "field-2", "oven-6"},
        {"heater-7", 11, "hall-3", "field-3", "oven-7"}};
    for (std::size_t u = 0; u < std::size(expected); ++u) {
      CAPTURE(expected[u].name);
      const auto& entry = spec.units[u];
      CHECK(entry.unit.name == expected[u].name);
      CHECK(entry.unit.id == expected[u].id);
      CHECK(entry.unit.lines == Lines{expected[u].line, expected[u].other_line});
      CHECK(entry.unit.comms_loss.lines == Lines{expected[u].other_line});
      REQUIRE(entry.heats.has_value());
      CHECK(*entry.heats == expected[u].zone);
      CHECK(entry.element.heat_capacity_J_per_K == 9000.0);
      REQUIRE(entry.unit.local_setpoint.has_value());
      CHECK(*entry.unit.local_setpoint == doctest::Approx(0.4));
    }
  }
  SUBCASE("on one line ids go on, and a zone there once is heated by all of them") {
    CHECK(spec.units[7].unit.id == 1);
    CHECK(spec.units[8].unit.id == 2);
    CHECK(spec.units[8].unit.lines == Lines{"office"});
    CHECK(spec.units[8].heats == std::optional<std::string>("hood"));
    CHECK(spec.units[8].unit.local_setpoint_signal == std::optional<std::string>("heater-2.output"));
  }
  SUBCASE("contactors and load sharing take all of them by one name") {
    CHECK(spec.contactors.at(0).feeds.size() == 7);
    CHECK(spec.contactors[0].feeds.back() == "heater-7");
    CHECK(spec.load_sharing.at(0).units.size() == 7);
    CHECK(spec.load_sharing[0].units.front() == "heater-1");
  }
}

TEST_CASE("copies that do not fit are told once, where they stand") {
  struct Case {
    const char* from;
    const char* to;
    const char* expected;
  };
  const Case cases[] = {
      {"copies: 2\n", "copies: 0\n",
       "plant.yaml:26:13: copies: expected a whole number from 1 to 10000, found '0'"},
      {"id: 11\n", "id: 246\n",
       "plant.yaml:16:9: id: 3 copies a line from 246 on end at 248, expected 247 at most: put them on more "
       "lines ('copies' of a line)"},
      {"field: { pty: /tmp/emberline/hall, copies: 3 }", "field: { pty: /tmp/emberline/hall, copies: 2 }",
       "plant.yaml:17:12: lines: 'field' is there 2 times, another one 3 times; expected as many copies of "
       "each"},
      {"oven: { copies: 7,", "oven: { copies: 6,",
       "plant.yaml:23:70: heats: 'oven' is there 6 times, this unit 7 times; expected a zone for each, or "
       "one "
       "for all"},
      {"127.0.0.1:15001, copies: 3", "127.0.0.1:65534, copies: 3",
       "plant.yaml:5:41: copies: 3 ports from 65534 on end at 65536, expected 65535 at most"},
      {"{ pty: /tmp/emberline/hall, copies: 3 }", "{ serial-port: /dev/ttyS0, copies: 3 }",
       "plant.yaml:6:45: copies: a serial port is there once"},
      {"id: 1\n", "id: 1\n    turnaround: -1 s\n",
       "plant.yaml:28:17: turnaround: '-1 s' must not be negative"},
      {"office: { tcp: 127.0.0.1:0 }", "office: { tcp: '127.0.0.1:15002' }",
       "plant.yaml:7:3: office: 127.0.0.1:15002 is taken by line 'hall-2'"},
      {"  hood: {", "  hall-2: {",
       "plant.yaml:10:3: name 'hall-2' is taken by a line on line 5: lines, contactors, zones, units, "
       "io-blocks "
       "and stand-ins need different names"},
  };
  const test::Workspace workspace;
  for (const auto& one : cases) {
    CAPTURE(one.to);
    written(workspace, one.from, one.to);
    const auto complaints = workspace.complaints("plant.yaml");
    REQUIRE_FALSE(complaints.empty());
    CHECK(complaints.front() == std::string(one.expected));
  }
}

TEST_CASE("one mistake in what has copies is one complaint") {
  const test::Workspace workspace;
  written(workspace, "cold_resistance: 22 ohm, heats: oven", "cold_resistance: -22 ohm, heats: oven");
  CHECK(workspace.complaints("plant.yaml").size() == 1);
  written(workspace, "    id: 1\n    lines: [office]", "    id: 12\n    lines: [hall-1]");
  CHECK(workspace.complaints("plant.yaml") ==
        Lines{"plant.yaml:27:9: id: 12 is taken by 'heater-2' on line 'hall-1'"});
}

TEST_CASE("only what has copies itself may name all copies of a line or zone") {
  const test::Workspace workspace;
  written(workspace, "  fan:\n    copies: 2\n    id: 1\n    lines: [office]",
          "  fan:\n    id: 1\n    lines: [hall]");
  CHECK(workspace.complaints("plant.yaml") ==
        Lines{"plant.yaml:27:13: lines: unknown line 'hall', did you mean 'hall-1'?"});
}

TEST_CASE("copies without an id are complained about and followed no further") {
  const test::Workspace workspace;
  written(workspace, "    copies: 7\n    id: 11\n", "    copies: 900\n");
  CHECK(workspace.complaints("plant.yaml").front() ==
        "plant.yaml:14:3: heater: key 'id' is missing, expected a unit id from 1 to 247");
}

TEST_CASE("a unit that is meant twice, by itself and as one of copies, is not put into a group twice") {
  const test::Workspace workspace;
  written(workspace, "ring: { units: [heater] }", "ring: { units: [heater, heater-1] }");
  CHECK(workspace.complaints("plant.yaml") ==
        Lines{"plant.yaml:12:27: units: 'heater-1' stands twice, as one of copies and by itself"});
  written(workspace, "main: { feeds: [heater] }", "main: { feeds: [heater, heater-2] }");
  CHECK(workspace.complaints("plant.yaml") ==
        Lines{"plant.yaml:3:39: feeds: 'heater-2' stands twice, as one of copies and by itself"});
}

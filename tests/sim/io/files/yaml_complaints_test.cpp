#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("a bench without units is told that there are none") {
  const test::Workspace workspace;
  workspace.write("bench.yaml",
                  "bench: Empty\nsupply: { system: single-phase, voltage: 230 V, frequency: 50 Hz }\n"
                  "lines: { field: { pty: } }\nunits: {}\n");
  CHECK(workspace.complaints("bench.yaml") ==
        std::vector<std::string>{
            "bench.yaml:4:8: units: expected units such as { soak-heater: { id: 1, ... } }, found none"});
}

TEST_CASE("text that is no usable YAML is told with its place, in one line a mistake") {
  const test::Breakage cases[] = {
      {"a file that does not parse", "  field: { pty: /tmp/emberline/field, serial: 19200 8E1 }",
       "  field: { pty: /tmp/emberline/field, serial: 19200 8E1", "bench.yaml:5:10: this '{' is not closed"},
      {"a duplicate key", "    id: 1\n",
       "    id: 1\n"
       "    id: 2\n",
       "bench.yaml:12:5: key 'id' stands twice, first on line 11"},
      {"a wrong unit of measure", "voltage: 400 V, frequency", "voltage: 400 A, frequency",
       "bench.yaml:2:41: voltage: 'A' is no unit for a voltage: expected a voltage such as '400 V'"},
      {"a missing unit of measure", "current: 63 A", "current: 63",
       "bench.yaml:14:40: current: '63' has no unit of measure: expected a current such as '50 A'"},
      {"an unknown key",
       "    rating:", "    rateing:", "bench.yaml:14:5: unknown key 'rateing', did you mean 'rating'?"},
      {"a line nobody defined",
       "lines: [field, ethernet]\n"
       "    registers",
       "lines: [field, ethernet2]\n"
       "    registers",
       "bench.yaml:12:20: lines: unknown line 'ethernet2', did you mean 'ethernet'?"},
      {"a duplicate unit id on a line", "    id: 20", "    id: 1",
       "bench.yaml:24:9: id: 1 is taken by 'soak-heater' on line 'ethernet'"},
      {"id 300", "    id: 20", "    id: 300",
       "bench.yaml:24:9: id: expected a whole number from 1 to 247, found '300'"},
      {"id 0", "    id: 20", "    id: 0",
       "bench.yaml:24:9: id: expected a whole number from 1 to 247, found '0'"},
      {"negative resistance", "cold_resistance: 22 ohm", "cold_resistance: -22 ohm",
       "bench.yaml:21:80: cold_resistance: '-22 ohm' must be above 0"},
      {"a quote that never closes", "bench: Test bench", "bench: \"Test bench",
       "bench.yaml:1:8: this quote is never closed"},
      {"a quote that a later line closes", "bench: Test bench",
       "bench: \"Test bench\n"
       "why: \"x\"",
       "bench.yaml:1:8: this quote is not closed on its line"},
      {"a quote that begins a key", "    id: 1\n", "    'id: 1\n",
       "bench.yaml:11:5: this quote is never closed"},
      {"an anchor", "{ mass: 180 kg", "&soak { mass: 180 kg",
       "bench.yaml:8:9: anchors (&name) are not used in these files: write values out"},
      {"an alias", "    limits: { current: 50 A }", "    limits: *limits",
       "bench.yaml:17:13: aliases (*name) are not used in these files: write the value out"},
      {"an alias of an anchor",
       "    limits: { current: 50 A }\n"
       "    comms_loss: {",
       "    limits: &l { current: 50 A }\n"
       "    intake: *l\n"
       "    comms_loss: {",
       "bench.yaml:17:13: anchors (&name) are not used in these files: write values out\n"
       "bench.yaml:18:13: aliases (*name) are not used in these files: write the value out\n"
       "bench.yaml:21:5: key 'intake' stands twice, first on line 18"},
      {"a tag", "bench: Test bench", "bench: !!str Test bench",
       "bench.yaml:1:8: tags (!name) are not used in these files: leave it out"},
      {"a second document", "units:\n",
       "---\n"
       "units:\n",
       "bench.yaml:9:1: a second document begins here, expected one a file (is a line indented differently "
       "from its neighbours?)"},
      {"a tab", "    id: 1\n", "\tid: 1\n", "bench.yaml:11:1: tabs cannot indent, expected spaces"},
      {"a bracket too many",
       "[field, ethernet]\n"
       "    registers",
       "[field, ethernet]]\n"
       "    registers",
       "bench.yaml:12:29: this bracket closes nothing"},
      {"text with a colon", "bench: Test bench", "bench: Test: bench",
       "bench.yaml:1:12: a ':' is not expected here; text with ': ' in it needs quotes"},
      {"an at sign", "bench: Test bench", "bench: @home",
       "bench.yaml:1:8: a value cannot begin with this character; put it in quotes"},
      {"a list as a key", "    id: 1\n",
       "    ? [id]\n"
       "    : 1\n"
       "    id: 1\n",
       "bench.yaml:11:7: expected a key, a plain word before the ':'"},
      {"a top that is no mapping", "bench: Test bench\n", "- bench: Test bench\n",
       "bench.yaml:2:1: a second document begins here, expected one a file (is a line indented differently "
       "from its neighbours?)"},
      {"a section that is a word", "contactors: { main: { feeds: [soak-heater] } }", "contactors: main",
       "bench.yaml:3:13: contactors: expected contactors such as { main: { feeds: [soak-heater] } }, found "
       "'main'\n"
       "bench.yaml:27:49: 8: unknown signal 'main.closed': the bench has no 'main', it has: soak-heater, "
       "supply, soak, marshalling, field, ethernet"},
      {"an empty section",
       "zones:\n"
       "  soak: { mass: 180 kg, specific_heat: 900 J/kgK, loss: 38 W/K, start: 540 degC, sensor: { lag: 12 s "
       "} }",
       "zones:",
       "bench.yaml:7:1: zones: nothing stands here, expected a value\n"
       "bench.yaml:20:95: heats: unknown zone 'soak'; known: none\n"
       "bench.yaml:28:27: signal: unknown signal 'soak.measured': the bench has no 'soak', it has: "
       "soak-heater, supply, main, marshalling, field, ethernet\n"
       "bench.yaml:28:73: 1: unknown signal 'soak.temperature': the bench has no 'soak', it has: "
       "soak-heater, supply, main, marshalling, field, ethernet"},
      {"no lines",
       "lines:\n"
       "  field: { pty: /tmp/emberline/field, serial: 19200 8E1 }\n"
       "  ethernet: { tcp: 127.0.0.1:1502 }\n"
       "zones:",
       "lines: {}\n"
       "zones:",
       "bench.yaml:4:8: lines: expected lines such as { field: { pty: /tmp/emberline/field } }, found none\n"
       "bench.yaml:10:13: lines: unknown line 'field'; known: none\n"
       "bench.yaml:10:20: lines: unknown line 'ethernet'; known: none\n"
       "bench.yaml:23:13: lines: unknown line 'ethernet'; known: none"},
      {"a unit that is a word", "limits: { current: 50 A }", "limits: 50 A",
       "bench.yaml:17:13: limits: expected keys and values such as { current: 50 A }"},
      {"an escape sequence in a title", "bench: Test bench", "bench: \"Test \\e[31mbench\"",
       "bench.yaml:1:8: control characters cannot stand in a text, found 0x1B"},
      {"a raw control character in a title", "bench: Test bench", "bench: Test\x07 bench",
       "bench.yaml:1:8: control characters cannot stand in a text, found 0x07"},
      {"a zero in a title", "bench: Test bench", "bench: \"Test\\0bench\"",
       "bench.yaml:1:8: control characters cannot stand in a text, found 0x00"},
      {"a delete in a title", "bench: Test bench", "bench: Test\x7f",
       "bench.yaml:1:8: control characters cannot stand in a text, found 0x7F"},
      {"a control character of two bytes", "bench: Test bench", "bench: Test \xC2\x9B bench",
       "bench.yaml:1:8: control characters cannot stand in a text, found 0x9B"},
      {"a tab in a title", "bench: Test bench", "bench: Test\tbench",
       "bench.yaml:1:8: control characters cannot stand in a text, found 0x09 (a tab)"},
      {"a control character in a name", "{ main: {", "{ \"ma\\ein\": {",
       "bench.yaml:3:15: control characters cannot stand in a text, found 0x1B\n"
       "bench.yaml:27:49: 8: unknown signal 'main.closed': the bench has no 'main', it has: soak-heater, "
       "supply, soak, marshalling, field, ethernet"},
      {"a title on two lines", "bench: Test bench", "bench: \"Test\\nbench\"",
       "bench.yaml:1:8: bench: expected a text on one line, found 'Test bench'"},
      {"a title on two lines of its own", "bench: Test bench", "bench: |\n  Test\n  bench",
       "bench.yaml:1:8: bench: expected a text on one line, found 'Test bench'"},
      {"a missing title", "bench: Test bench",
       "bench:", "bench.yaml:1:1: bench: nothing stands here, expected a value"},
      {"umlauts count as one column",
       "bench: Test bench\n"
       "supply: { system",
       "bench: Härteofen\n"
       "supply: { ärger: 1, system",
       "bench.yaml:2:11: unknown key 'ärger'; known: system, voltage, frequency, impedance, phases, "
       "rotation, demand_interval"},
  };
  test::check_breakages(cases, "bench.yaml");
}

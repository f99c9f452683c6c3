#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with supply, lines, names, contactors and zones is told where it stands") {
  const test::Breakage cases[] = {
      {"no frequency", ", frequency: 50 Hz", "",
       "bench.yaml:2:1: supply: key 'frequency' is missing, expected '50 Hz' or '60 Hz'"},
      {"an odd frequency", "frequency: 50 Hz", "frequency: 5 Hz",
       "bench.yaml:2:59: frequency: expected a frequency from 10 Hz to 1 kHz, found '5 Hz'"},
      {"an unknown system", "system: three-phase", "system: two-phase",
       "bench.yaml:2:19: system: unknown word 'two-phase'; known: single-phase, three-phase"},
      {"a negative impedance", "impedance: 8 mohm", "impedance: -8 mohm",
       "bench.yaml:2:77: impedance: '-8 mohm' must not be negative"},
      {"zero volts", "voltage: 400 V, frequency", "voltage: 0 V, frequency",
       "bench.yaml:2:41: voltage: '0 V' must be above 0"},
      {"a single phase and a connection", "system: three-phase", "system: single-phase",
       "bench.yaml:21:13: connection: a single-phase supply leaves no choice: leave it out"},
      {"a serial port without a whole path", "{ tcp: 127.0.0.1:1502 }",
       "{ serial-port: ttyS0, serial: 9600 8N1 }",
       "bench.yaml:6:28: serial-port: expected the whole path of a tty such as /dev/ttyUSB0, found 'ttyS0'"},
      {"0B on a wire with other slaves", "{ tcp: 127.0.0.1:1502 }",
       "{ serial-port: /dev/ttyS0, unknown_id: exception-0B }",
       "bench.yaml:6:40: unknown_id: an id nobody has here may be that of a real slave on the same wire"},
      {"connections on a serial port", "{ tcp: 127.0.0.1:1502 }",
       "{ serial-port: /dev/ttyS0, idle_timeout: 5 s }",
       "bench.yaml:6:40: idle_timeout: only tcp and rtu-tcp lines count connections"},
      {"RTU over TCP without a port", "{ tcp: 127.0.0.1:1502 }", "{ rtu-tcp: 127.0.0.1 }",
       "bench.yaml:6:24: rtu-tcp: expected a host and a port such as '127.0.0.1:1502', found '127.0.0.1'"},
      {"silences in a TCP connection", "{ tcp: 127.0.0.1:1502 }",
       "{ rtu-tcp: 127.0.0.1:1502, strict_timing: on }",
       "bench.yaml:6:40: strict_timing: a TCP connection keeps no silences between frames"},
      {"an adapter on TCP", "{ tcp: 127.0.0.1:1502 }", "{ tcp: 127.0.0.1:1502, rs485: on }",
       "bench.yaml:6:36: rs485: only a serial-port line has an adapter"},
      {"pacing on TCP", "{ tcp: 127.0.0.1:1502 }", "{ tcp: 127.0.0.1:1502, pacing: none }",
       "bench.yaml:6:36: pacing: a tcp line has no serial timing"},
      {"an unknown pacing", "serial: 19200 8E1", "serial: 19200 8E1, pacing: off",
       "bench.yaml:5:66: pacing: unknown word 'off'; known: line-time, none"},
      {"a turnaround below zero", "rating: { voltage: 400 V, current: 63 A }",
       "rating: { voltage: 400 V, current: 63 A }\n    turnaround: -1 ms",
       "bench.yaml:15:17: turnaround: '-1 ms' must not be negative"},
      {"two ways in", "{ tcp: 127.0.0.1:1502 }", "{ tcp: 127.0.0.1:1502, pty: /tmp/x }",
       "bench.yaml:6:3: ethernet: a line is one way in, found 'pty' and 'tcp'"},
      {"no way in", "{ tcp: 127.0.0.1:1502 }", "{ max_connections: 8 }",
       "bench.yaml:6:3: ethernet: expected 'pty: PATH', 'serial-port: PATH', 'tcp: HOST:PORT' or 'rtu-tcp: "
       "HOST:PORT' among the keys of a line"},
      {"a host without port", "127.0.0.1:1502", "127.0.0.1",
       "bench.yaml:6:20: tcp: expected a host and a port such as '127.0.0.1:1502', found '127.0.0.1'"},
      {"a port too large", "127.0.0.1:1502", "127.0.0.1:70000",
       "bench.yaml:6:20: tcp: expected a port from 0 to 65535 behind the host (0: one is chosen), found "
       "'127.0.0.1:70000'"},
      {"an address that is none", "127.0.0.1:1502", "300.0.0.1:1502",
       "bench.yaml:6:20: tcp: expected a host and a port such as '127.0.0.1:1502', found '300.0.0.1:1502'"},
      {"a host with blanks", "127.0.0.1:1502", "my host:1502",
       "bench.yaml:6:20: tcp: expected a host and a port such as '127.0.0.1:1502', found 'my host:1502'"},
      {"connections on a pty", "serial: 19200 8E1", "serial: 19200 8E1, max_connections: 3",
       "bench.yaml:5:58: max_connections: only tcp and rtu-tcp lines count connections"},
      {"serial on tcp", "tcp: 127.0.0.1:1502", "tcp: 127.0.0.1:1502, serial: 9600 8N1",
       "bench.yaml:6:36: serial: a tcp line has no serial timing"},
      {"7 data bits", "19200 8E1", "19200 7E1",
       "bench.yaml:5:47: serial: Modbus RTU needs 8 data bits: expected a speed and a format such as '19200 "
       "8E1'"},
      {"an odd speed", "19200 8E1", "19000 8E1",
       "bench.yaml:5:47: serial: speed 19000 is not supported: expected 1200, 2400, 4800, 9600, 19200, "
       "38400, 57600 or 115200 bit/s"},
      {"no connections", "tcp: 127.0.0.1:1502", "tcp: 127.0.0.1:1502, max_connections: 0",
       "bench.yaml:6:53: max_connections: expected a whole number from 1 to 1000, found '0'"},
      {"an unknown way to go beyond", "tcp: 127.0.0.1:1502", "tcp: 127.0.0.1:1502, beyond: drop-newest",
       "bench.yaml:6:44: beyond: unknown word 'drop-newest', did you mean 'drop-oldest'?"},
      {"an unknown answer to unknown ids", "tcp: 127.0.0.1:1502",
       "tcp: 127.0.0.1:1502, unknown_id: exception-0A",
       "bench.yaml:6:48: unknown_id: unknown word 'exception-0A', did you mean 'exception-0B'?"},
      {"timing that is no switch", "serial: 19200 8E1", "strict_timing: very",
       "bench.yaml:5:54: strict_timing: expected on or off (or closed/open, true/false, 1/0), found 'very'"},
      {"a path that is taken", "  ethernet: { tcp: 127.0.0.1:1502 }",
       "  ethernet: { tcp: 127.0.0.1:1502 }\n"
       "  spare: { pty: /tmp/emberline/field }",
       "bench.yaml:7:3: spare: /tmp/emberline/field is taken by line 'field'"},
      {"a port that is taken", "  ethernet: { tcp: 127.0.0.1:1502 }",
       "  ethernet: { tcp: 127.0.0.1:1502 }\n"
       "  spare: { tcp: 127.0.0.1:1502 }",
       "bench.yaml:7:3: spare: 127.0.0.1:1502 is taken by line 'ethernet'"},
      {"a name that is taken", "  marshalling:", "  field:",
       "bench.yaml:23:3: name 'field' is taken by a line on line 5: lines, contactors, zones, units, "
       "io-blocks and stand-ins need different names"},
      {"a name of a unit that is a zone's", "contactors: { main: { feeds: [soak-heater] } }",
       "contactors: { main: { feeds: [soak-heater] }, marshalling: { feeds: [soak-heater] } }",
       "bench.yaml:3:70: feeds: 'soak-heater' is fed by contactor 'main' already\n"
       "bench.yaml:23:3: name 'marshalling' is taken by a contactor on line 3: lines, contactors, zones, "
       "units, io-blocks and stand-ins need different names"},
      {"the name of the supply", "  ethernet: { tcp",
       "  supply: { pty: }\n"
       "  ethernet: { tcp",
       "bench.yaml:6:3: 'supply' is the name of the supply itself: choose another one"},
      {"a dot in a name", "  ethernet: { tcp",
       "  ether.net: { pty: }\n"
       "  ethernet: { tcp",
       "bench.yaml:6:3: 'ether.net' cannot be a name: expected letters, digits, '-' and '_', for instance "
       "'soak-heater'"},
      {"a blank in a name", "  ethernet: { tcp",
       "  ether net: { pty: }\n"
       "  ethernet: { tcp",
       "bench.yaml:6:3: 'ether net' cannot be a name: expected letters, digits, '-' and '_', for instance "
       "'soak-heater'"},
      {"a unit nobody defined", "feeds: [soak-heater]", "feeds: [soak-heatre]",
       "bench.yaml:3:31: feeds: unknown unit 'soak-heatre', did you mean 'soak-heater'?"},
      {"a unit fed twice", "{ main: { feeds: [soak-heater] } }",
       "{ main: { feeds: [soak-heater] }, second: { feeds: [soak-heater] } }",
       "bench.yaml:3:65: feeds: 'soak-heater' is fed by contactor 'main' already"},
      {"a list with doubles", "feeds: [soak-heater]", "feeds: [soak-heater, soak-heater]",
       "bench.yaml:3:44: feeds: 'soak-heater' stands twice in the list"},
      {"an empty list", "feeds: [soak-heater]", "feeds: []",
       "bench.yaml:3:30: feeds: expected a list such as [first, second] with at least one entry"},
      {"a list in a list", "feeds: [soak-heater]", "feeds: [[soak-heater]]",
       "bench.yaml:3:31: feeds: expected a word, found a list"},
      {"below absolute zero", "start: 540 degC", "start: -300 degC",
       "bench.yaml:8:72: start: '-300 degC' lies below absolute zero"},
      {"an endless lag", "lag: 12 s", "lag: 2000000 h",
       "bench.yaml:8:97: lag: '2000000 h' is longer than 1000 days"},
      {"no mass", "mass: 180 kg", "mass: 0 kg", "bench.yaml:8:17: mass: '0 kg' must be above 0"},
      {"a mass beyond reason", "mass: 180 kg", "mass: 1e300 kg",
       "bench.yaml:8:17: mass: '1e300 kg' is too large to be meant"},
  };
  test::check_breakages(cases, "bench.yaml");
}

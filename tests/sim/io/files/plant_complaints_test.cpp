#include <string>

#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with the phases of a supply is told where it stands") {
  const test::Breakage cases[] = {
      {"two phases of three", "impedance: 8 mohm", "phases: [100 %, 97 %]",
       "bench.yaml:2:74: phases: expected the voltages of all three phases, such as [100 %, 97 %, 101 %], "
       "found a list"},
      {"one value for all phases", "impedance: 8 mohm", "phases: 97 %",
       "bench.yaml:2:74: phases: expected the voltages of all three phases, such as [100 %, 97 %, 101 %], "
       "found '97 %'"},
      {"a phase beyond reason", "impedance: 8 mohm", "phases: [100 %, 250 %, 100 %]",
       "bench.yaml:2:82: phases: expected a share of the nominal voltage from 0 % to 200 %, found '250 %'"},
      {"a phase without unit", "impedance: 8 mohm", "phases: [100 %, 1, 100 %]",
       "bench.yaml:2:82: phases: '1' has no unit of measure: expected a percentage such as '50 %'"},
      {"a rotation nobody knows", "impedance: 8 mohm", "rotation: l3-l2-l1",
       "bench.yaml:2:76: rotation: unknown word 'l3-l2-l1', did you mean 'l1-l2-l3'?"},
      {"an inductance alone", "impedance: 8 mohm", "impedance: { inductance: 40 uH }",
       "bench.yaml:2:66: impedance: key 'resistance' is missing"},
      {"a negative inductance", "impedance: 8 mohm", "impedance: { resistance: 8 mohm, inductance: -40 uH }",
       "bench.yaml:2:111: inductance: '-40 uH' must not be negative"},
      {"no demand interval", "impedance: 8 mohm", "demand_interval: 0 s",
       "bench.yaml:2:83: demand_interval: '0 s' must be above 0"},
      {"phases of a single one", "system: three-phase, voltage: 400 V, frequency: 50 Hz, impedance: 8 mohm",
       "system: single-phase, voltage: 400 V, frequency: 50 Hz, phases: [100 %, 100 %, 100 %], rotation: "
       "l1-l2-l3",
       "bench.yaml:2:67: phases: a single-phase supply has but one\n"
       "bench.yaml:2:98: rotation: a single phase does not rotate\n"
       "bench.yaml:21:13: connection: a single-phase supply leaves no choice: leave it out"},
  };
  test::check_breakages(cases, "bench.yaml");
}

TEST_CASE("what is wrong with a zone, its wall and its neighbours is told where it stands") {
  const char* const loss = "loss: 38 W/K";
  const char* const units = "units:\n";
  const test::Breakage cases[] = {
      {"neither loss nor wall", ", loss: 38 W/K", "",
       "bench.yaml:8:3: soak: key 'loss' is missing, expected one such as '38 W/K', or a 'wall'"},
      {"a wall without layers", loss, "wall: { area: 2 m2 }",
       "bench.yaml:8:51: wall: key 'layers' is missing, expected what the wall is made of, from the inside "
       "out"},
      {"a wall with an empty list", loss, "wall: { area: 2 m2, layers: [] }",
       "bench.yaml:8:79: layers: expected a list of layers from the inside out, such as [{ thickness: 115 "
       "mm, conductivity: 0.3 W/mK, density: 780 kg/m3, specific_heat: 1.05 kJ/kgK }], found none"},
      {"a layer that lacks something", loss,
       "wall: { area: 2 m2, layers: [{ thickness: 115 mm, conductivity: 0.3 W/mK }] }",
       "bench.yaml:8:80: layers: key 'density' is missing\n"
       "bench.yaml:8:80: layers: key 'specific_heat' is missing"},
      {"an area in m", loss,
       "wall: { area: 2 m, layers: [{ thickness: 115 mm, conductivity: 0.3 W/mK, density: 780 kg/m3, "
       "specific_heat: 1 kJ/kgK }] }",
       "bench.yaml:8:65: area: 'm' is no unit for an area: expected an area such as '2.4 m2'"},
      {"a layer of nothing", loss,
       "wall: { area: 2 m2, layers: [{ thickness: 0 mm, conductivity: 0.3 W/mK, density: 780 kg/m3, "
       "specific_heat: 1 kJ/kgK }] }",
       "bench.yaml:8:93: thickness: '0 mm' must be above 0"},
      {"a zone that would move in no time", "mass: 180 kg", "mass: 0.0001 g",
       "bench.yaml:8:3: soak: time constant mass x specific_heat / loss: given 2.36842e-06 s, expected 0.01 "
       "s or more (check the units)"},
      {"a cut-out that opens a unit", loss, "loss: 38 W/K, cut_out: { above: 700 degC, opens: soak-heater }",
       "bench.yaml:8:100: opens: unknown contactor 'soak-heater'; known: main"},
      {"a cut-out that opens nothing", loss, "loss: 38 W/K, cut_out: { above: 700 degC }",
       "bench.yaml:8:65: cut_out: key 'opens' is missing, expected the contactor that it opens"},
      {"a cut-out without a unit of measure", loss, "loss: 38 W/K, cut_out: { above: 700, opens: main }",
       "bench.yaml:8:83: above: '700' has no unit of measure: expected a temperature such as '540 degC'"},
      {"neighbours that are one zone", units,
       "neighbours: [{ between: [soak, soak], conductance: 12 W/K }]\nunits:\n",
       "bench.yaml:9:32: between: 'soak' stands twice in the list"},
      {"one neighbour", units, "neighbours: [{ between: soak, conductance: 12 W/K }]\nunits:\n",
       "bench.yaml:9:25: between: expected two different zones such as [soak, cooling]"},
      {"a neighbour nobody defined", units,
       "neighbours: [{ between: [soak, soka], conductance: 12 W/K }]\nunits:\n",
       "bench.yaml:9:32: between: unknown zone 'soka', did you mean 'soak'?"},
      {"neighbours without a path", units, "neighbours: [{ between: [soak, soka] }]\nunits:\n",
       "bench.yaml:9:14: neighbours: key 'conductance' is missing, expected one such as '12 W/K', or an "
       "'opening' such as '0.2 m2'\n"
       "bench.yaml:9:32: between: unknown zone 'soka', did you mean 'soak'?"},
      {"neighbours that are no list", units, "neighbours: { between: [soak, soka] }\nunits:\n",
       "bench.yaml:9:13: neighbours: expected a list of entries such as { between: [soak, cooling], "
       "conductance: 12 W/K }, found keys and values"},
      {"emissivity of a closed door", units,
       "neighbours: [{ between: [soak, soka], conductance: 1 W/K, emissivity: 80 % }]\nunits:\n",
       "bench.yaml:9:32: between: unknown zone 'soka', did you mean 'soak'?\n"
       "bench.yaml:9:59: emissivity: only through an 'opening' something radiates"},
  };
  test::check_breakages(cases, "bench.yaml");
}

TEST_CASE("two zones are neighbours once") {
  const test::Breakage cases[] = {
      {"twice, the other way round", "zones:\n",
       "neighbours: [{ between: [soak, cool], conductance: 1 W/K }, { between: [cool, soak], opening: 1 m2 "
       "}]\n"
       "zones:\n  cool: { mass: 20 kg, specific_heat: 900 J/kgK, loss: 38 W/K }\n",
       "bench.yaml:7:72: between: cool and soak stand here already: say it in one entry"},
  };
  test::check_breakages(cases, "bench.yaml");
}

TEST_CASE("what is wrong with an element is told where it stands") {
  const char* const heats = "heats: soak";
  const test::Breakage cases[] = {
      {"no heat capacity", heats, "heats: soak, element: { coupling: 40 W/K }",
       "bench.yaml:21:101: element: key 'heat_capacity' is missing, expected one such as '900 J/K', or "
       "'mass' and 'specific_heat'"},
      {"both kinds of heat capacity", heats,
       "heats: soak, element: { heat_capacity: 900 J/K, mass: 2 kg, specific_heat: 460 J/kgK, coupling: 40 "
       "W/K }",
       "bench.yaml:21:112: heat_capacity: 'mass' and 'specific_heat' say it already: leave one out"},
      {"a mass alone", heats, "heats: soak, element: { mass: 2 kg, coupling: 40 W/K }",
       "bench.yaml:21:101: element: key 'specific_heat' is missing, expected that of the element, beside its "
       "'mass'"},
      {"no way out for its heat", heats, "heats: soak, element: { heat_capacity: 900 J/K }",
       "bench.yaml:21:101: element: key 'coupling' is missing, expected how heat gets to the zone, such as "
       "'40 W/K', or 'radiating_area' and 'emissivity'"},
      {"two names for one thing", heats,
       "heats: soak, element: { heat_capacity: 900 J/K, coupling: 40 W/K, conductance: 40 W/K }",
       "bench.yaml:21:154: conductance: the same as 'coupling': leave one out"},
      {"radiation without emissivity", heats,
       "heats: soak, element: { heat_capacity: 900 J/K, radiating_area: 0.2 m2 }",
       "bench.yaml:21:101: element: key 'emissivity' is missing, expected that of element and zone together, "
       "such as '80 %'"},
      {"emissivity without area", heats,
       "heats: soak, element: { heat_capacity: 900 J/K, coupling: 40 W/K, emissivity: 80 % }",
       "bench.yaml:21:154: emissivity: only what has a 'radiating_area' radiates"},
      {"an emissivity above all", heats,
       "heats: soak, element: { heat_capacity: 900 J/K, radiating_area: 0.2 m2, emissivity: 180 % }",
       "bench.yaml:21:172: emissivity: expected an emissivity from 0 % to 100 %, found '180 %'"},
      {"in a zone", "loss: 38 W/K", "loss: 38 W/K, element: { heat_capacity: 0 J/K, coupling: 40 W/K }",
       "bench.yaml:8:91: heat_capacity: '0 J/K' must be above 0"},
  };
  test::check_breakages(cases, "bench.yaml");
}

TEST_CASE("what is wrong with a load is told where it stands") {
  const char* const star = "connection: star-4-wire";
  const char* const ohms = "cold_resistance: 22 ohm";
  const test::Breakage cases[] = {
      {"no connection", "connection: star-4-wire, ", "",
       "bench.yaml:21:5: load: key 'connection' is missing, expected 'star-4-wire', 'star-3-wire', 'delta', "
       "'open-delta' or 'single-phase'"},
      {"a connection with a slip of the pen", star, "connection: star-3-wires",
       "bench.yaml:21:25: connection: unknown word 'star-3-wires', did you mean 'star-3-wire'?"},
      {"a single phase somewhere", star, "connection: single-phase",
       "bench.yaml:21:5: load: key 'across' is missing, expected where a single-phase load hangs, such as "
       "'l1-n' or 'l1-l2'"},
      {"a single phase between nothing", star, "connection: single-phase, across: l1-l1",
       "bench.yaml:21:47: across: unknown word 'l1-l1', did you mean 'l1-l2'?"},
      {"a star across two lines", star, "connection: star-4-wire, across: l1-l2",
       "bench.yaml:21:38: across: only a 'connection: single-phase' load hangs between two wires of one's "
       "choice"},
      {"two controlled legs with a neutral", star, "connection: star-4-wire, controlled_legs: 2",
       "bench.yaml:21:38: controlled_legs: only star-3-wire and delta can leave one line without thyristors"},
      {"one controlled leg", star, "connection: delta, controlled_legs: 1",
       "bench.yaml:21:49: controlled_legs: expected a whole number from 2 to 3, found '1'"},
      {"two controlled legs cut in angle", star, "connection: star-3-wire, controlled_legs: 2",
       "bench.yaml:15:21: mode: with 'controlled_legs: 2' one line is always connected, which phase-angle "
       "firing cannot work with; expected burst or burst-spread"},
      {"two values for three legs", ohms, "cold_resistance: [22 ohm, 23 ohm]",
       "bench.yaml:21:80: cold_resistance: expected a value for each of the 3 legs, found 2"},
      {"one leg without unit", ohms, "cold_resistance: [22 ohm, 23, 24 ohm]",
       "bench.yaml:21:89: cold_resistance: '23' has no unit of measure: expected a resistance such as '22 "
       "ohm'"},
      {"three values for one leg",
       "connection: star-4-wire, elements: 4 in parallel, cold_resistance: 22 ohm",
       "connection: single-phase, across: l1-n, cold_resistance: [22 ohm, 23 ohm, 24 ohm]",
       "bench.yaml:21:70: cold_resistance: expected one value, as there is one leg, found 3"},
      {"an inductance below zero", ohms, "cold_resistance: 22 ohm, inductance: [1 mH, -1 mH, 1 mH]",
       "bench.yaml:21:107: inductance: '-1 mH' must not be negative"},
      {"elements that vanish", ohms, "cold_resistance: 22 ohm, ageing: 0 %",
       "bench.yaml:21:96: ageing: '0 %' must be above 0"},
      {"elements older than the hills", ohms, "cold_resistance: 22 ohm, ageing: 20000 %",
       "bench.yaml:21:96: ageing: expected resistances as shares of the new ones, such as '115 %', up to "
       "10000 %, found '20000 %'"},
      {"a leakage that is none", ohms, "cold_resistance: 22 ohm, leakage: -1 mA",
       "bench.yaml:21:97: leakage: '-1 mA' must not be negative"},
      {"a transformer without a ratio", ohms, "cold_resistance: 22 ohm, transformer: { knee: 120 % }",
       "bench.yaml:21:88: transformer: key 'ratio' is missing, expected primary to secondary turns, such as "
       "8.3"},
      {"a ratio with a unit", ohms, "cold_resistance: 22 ohm, transformer: { ratio: 8 V }",
       "bench.yaml:21:110: ratio: expected a plain number without a unit, found '8 V'"},
      {"a core that saturates upwards", ohms,
       "cold_resistance: 22 ohm, transformer: { ratio: 8, magnetising_inductance: 1 mH, "
       "saturated_inductance: 2 mH }",
       "bench.yaml:21:165: saturated_inductance: expected less than the magnetising inductance: a saturated "
       "core has next to none, found '2 mH'"},
      {"more remanence than peak", ohms,
       "cold_resistance: 22 ohm, transformer: { ratio: 8, remanence: 140 % }",
       "bench.yaml:21:5: load: transformer: remanence: given 1.4, expected 0 or more, and below the knee"},
      {"a transformer in three wires",
       "connection: star-4-wire, elements: 4 in parallel, cold_resistance: 22 ohm",
       "connection: star-3-wire, cold_resistance: 22 ohm, transformer: { ratio: 8 }",
       "bench.yaml:21:63: transformer: only loads whose legs are independent have one: star-4-wire, "
       "open-delta, single-phase"},
  };
  test::check_breakages(cases, "bench.yaml");
}

TEST_CASE("what is wrong with bursts, soft start and the control loop is told where it stands") {
  const char* const firing = "mode: phase-angle, ramp: 500 ms";
  const char* const control = "variable: power, full_scale: 24 kW";
  const test::Breakage cases[] = {
      {"a base in phase-angle", firing, "mode: phase-angle, base: 2 s",
       "bench.yaml:15:34: base: only 'mode: burst' keeps a fixed base"},
      {"a base of spread bursts", firing, "mode: burst-spread, base: 2 s",
       "bench.yaml:15:35: base: only 'mode: burst' keeps a fixed base"},
      {"a base of one cycle", firing, "mode: burst, base: 20 ms",
       "bench.yaml:15:34: base: expected at least two mains cycles, one on and one off, found '20 ms'"},
      {"a first angle in phase-angle", firing, "mode: phase-angle, first_angle: 70 deg",
       "bench.yaml:15:34: first_angle: only bursts have a first half-wave"},
      {"a first angle that is off", firing, "mode: burst, first_angle: 180 deg",
       "bench.yaml:15:41: first_angle: expected an angle from 0 deg to below 180 deg, found '180 deg'"},
      {"a negative soft start", firing, "mode: burst, soft_start: -1 s",
       "bench.yaml:15:40: soft_start: '-1 s' must not be negative"},
      {"a soft start of spread bursts", firing, "mode: burst-spread, soft_start: 200 ms",
       "bench.yaml:15:35: soft_start: spread bursts last a cycle or so and would never get past it; use "
       "'first_angle'"},
      {"a soft start beyond a quarter of the base", firing, "mode: burst, base: 2 s, soft_start: 501 ms",
       "bench.yaml:15:51: soft_start: expected at most a quarter of 'base', 0.5 s here, found '501 ms'"},
      {"a soft start beyond a quarter of the usual base", firing, "mode: burst, soft_start: 251 ms",
       "bench.yaml:15:40: soft_start: expected at most a quarter of 'base', 0.25 s here, found '251 ms'"},
      {"a soft start of a base that cannot be read, told once", firing,
       "mode: burst, soft_start: 501 ms, base: 2",
       "bench.yaml:15:54: base: '2' has no unit of measure: expected a time such as '3 s'"},
      {"an angle of bursts", firing, "mode: burst, angle: 70 deg",
       "bench.yaml:15:28: angle: only phase-angle firing can hold an angle"},
      {"no gain", control, "variable: power, full_scale: 24 kW, gain: 0",
       "bench.yaml:16:58: gain: expected a number from 0.01 to 100, found '0'"},
      {"a gain without loop", control, "variable: open-loop, gain: 2",
       "bench.yaml:16:37: gain: open-loop has no loop, and so no gain"},
      {"compensation of what is measured", control,
       "variable: power, full_scale: 24 kW, supply_compensation: on",
       "bench.yaml:16:52: supply_compensation: what is measured makes up for the supply by itself; only "
       "open-loop needs it"},
  };
  test::check_breakages(cases, "bench.yaml");
}

TEST_CASE("what is wrong with heat sink, fuse and protections is told where it stands") {
  const char* const limits = "    limits: { current: 50 A }";
  const test::Breakage cases[] = {
      {"a heat sink without resistance", limits, "    heat_sink: { ambient: 40 degC }",
       "bench.yaml:17:5: heat_sink: key 'resistance' is missing, expected that to the cabinet's air with the "
       "fan running, such as '0.25 K/W'"},
      {"a fan that heats", limits, "    heat_sink: { resistance: 0.25 K/W, without_fan: 0.5 }",
       "bench.yaml:17:53: without_fan: expected how many times the resistance is without the fan, from 1 to "
       "100, found '0.5'"},
      {"a heat sink in W/K", limits, "    heat_sink: { resistance: 4 W/K }",
       "bench.yaml:17:30: resistance: 'W/K' is no unit for a thermal resistance: expected a thermal "
       "resistance such as '0.25 K/W'"},
      {"a fuse without melting", limits, "    fuse: { rating: 63 A }",
       "bench.yaml:17:5: fuse: key 'melting' is missing, expected the I2t that melts it, such as '5 kA2s'"},
      {"a fuse in A2", limits, "    fuse: { rating: 63 A, melting: 5000 A2 }",
       "bench.yaml:17:36: melting: 'A2' is no unit for a melting integral: expected a melting integral such "
       "as '5000 A2s'"},
      {"a protection nobody knows", limits, "    protections: { phase-loss: off }",
       "bench.yaml:17:20: unknown protection 'phase-loss', did you mean 'phase-lost'?"},
      {"protections as a list", limits, "    protections: [phase-lost]",
       "bench.yaml:17:18: protections: expected protections such as { phase-lost: off, over-current: { "
       "above: 300 % } }, found a list"},
      {"a protection that is neither on nor off", limits, "    protections: { phase-lost: sometimes }",
       "bench.yaml:17:32: phase-lost: expected on or off (or closed/open, true/false, 1/0), found "
       "'sometimes'"},
      {"a list for a protection", limits, "    protections: { phase-lost: [off] }",
       "bench.yaml:17:32: phase-lost: expected on, off or keys such as { after: 2 s }, found a list"},
      {"the wrong side", limits, "    protections: { over-current: { below: 50 % } }",
       "bench.yaml:17:36: unknown key 'below'; known: above, hysteresis, after, reset_by"},
      {"a threshold in another unit", limits, "    protections: { supply-frequency: { off_by: 2 % } }",
       "bench.yaml:17:48: off_by: '%' is no unit for a frequency: expected a frequency such as '50 Hz'"},
      {"low above nominal", limits, "    protections: { supply-low: { below: 110 % } }",
       "bench.yaml:17:41: below: expected a percentage from 0 % to 100 %, found '110 %'"},
      {"high below nominal", limits, "    protections: { supply-high: { above: 90 % } }",
       "bench.yaml:17:42: above: expected a share of the nominal voltage of 100 % or more, found '90 %'"},
      {"an overload of no fuse", limits, "    protections: { overload: { above: 80 % } }",
       "bench.yaml:17:20: overload: counts up to what melts the fuse, and the unit has no 'fuse'"},
      {"a heat sink that is not there", limits, "    protections: { heatsink-warm: on }",
       "bench.yaml:17:20: heatsink-warm: the unit has no 'heat_sink' that could get warm"},
      {"a fuse with a threshold", limits, "    protections: { fuse-open: { above: 50 % } }",
       "bench.yaml:17:33: unknown key 'above'; known: after, reset_by"},
      {"a warning that is reset", limits, "    protections: { load-open: { reset_by: enable-cycle } }",
       "bench.yaml:17:33: reset_by: a warning goes when its cause goes, so only trips are reset"},
      {"a reset the table has not", limits, "    protections: { phase-lost: { reset_by: [reset-register] } }",
       "bench.yaml:17:45: reset_by: the register table has no 'reset' that could be written"},
      {"learning by heart", limits, "    protections: { partial-load-failure: { learn: never } }",
       "bench.yaml:17:51: learn: unknown word 'never'; known: first-run, command"},
      {"learning of something else", limits, "    protections: { load-open: { learn: command } }",
       "bench.yaml:17:33: unknown key 'learn'; known: below, hysteresis, after"},
      {"a hysteresis below zero", limits, "    protections: { supply-low: { hysteresis: -1 % } }",
       "bench.yaml:17:46: hysteresis: '-1 %' must not be negative"},
      {"a delay without unit", limits, "    protections: { supply-low: { after: 2 } }",
       "bench.yaml:17:41: after: '2' has no unit of measure: expected a time such as '3 s'"},
  };
  test::check_breakages(cases, "bench.yaml");
}

namespace {

/// A line of `units:` for a further unit, which fires like this.
std::string other_unit(const std::string& name, int id, const std::string& firing) {
  return "  " + name + ": { id: " + std::to_string(id) +
         ", lines: field, registers: table.yaml, rating: { voltage: 400 V, current: 63 A }, control: { "
         "variable: open-loop }, comms_loss: { timeout: 3 s, policy: latch-to-inhibit }, load: { connection: "
         "delta, cold_resistance: 22 ohm }, firing: { " +
         firing + " } }\n";
}

}  // namespace

TEST_CASE("units that share their load have to burst alike") {
  struct Case {
    const char* what;
    std::string added;
    const char* expected;
  };
  const auto b = other_unit("b", 2, "mode: burst");
  const auto slow_b = other_unit("b", 2, "mode: burst, base: 2 s");
  const auto wrong_b = other_unit("b", 2, "mode: burts");
  const auto c = other_unit("c", 3, "mode: burst");
  const Case cases[] = {
      {"one unit alone", b + "load_sharing: { ring: { units: b } }\n",
       "bench.yaml:23:32: units: expected two units or more, found 'b'"},
      {"a unit nobody defined", b + "load_sharing: { ring: { units: [b, c] } }\n",
       "bench.yaml:23:36: units: unknown unit 'c', did you mean 'b'?"},
      {"a unit without a base", b + "load_sharing: { ring: { units: [b, soak-heater] } }\n",
       "bench.yaml:23:36: units: 'soak-heater' is not in 'mode: burst', so it has no base to share"},
      {"bases that differ", slow_b + c + "load_sharing: { ring: { units: [b, c] } }\n",
       "bench.yaml:24:36: units: the base of 'c' is 1 s, that of 'b' 2 s; expected the same"},
      {"a unit in two groups",
       b + c + "load_sharing: { ring: { units: [b, c] }, other: { units: [c, b] } }\n",
       "bench.yaml:24:59: units: 'c' shares its load in 'ring' already\n"
       "bench.yaml:24:62: units: 'b' shares its load in 'ring' already"},
      {"a unit whose firing cannot be read, told once",
       wrong_b + c + "load_sharing: { ring: { units: [b, c] } }\n",
       "bench.yaml:22:255: mode: unknown word 'burts', did you mean 'burst'?"},
      {"no units", "load_sharing: { ring: { } }\n",
       "bench.yaml:22:17: ring: key 'units' is missing, expected the units whose bursts follow each other"},
      {"groups that are a list", "load_sharing: [soak-heater]\n",
       "bench.yaml:22:15: load_sharing: expected groups of units such as { ring: { units: [first, second] } "
       "}, found a list"},
  };
  for (const auto& [what, added, expected] : cases) {
    const auto with = added + "io_blocks:\n";
    const test::Breakage breakage[] = {{what, "io_blocks:\n", with.c_str(), expected}};
    test::check_breakages(breakage, "bench.yaml");
  }
}

TEST_CASE("what a broken sensor reads has to fit its register") {
  const char* const input = "as: s16, scale: 0.1 degC";
  const test::Breakage cases[] = {
      {"too large a number", input, "as: s16, scale: 0.1 degC, broken: 32768",
       "bench.yaml:29:76: broken: expected a number that s16 can carry, found '32768'"},
      {"too hot", input, "as: s16, scale: 0.1 degC, broken: 4000 degC",
       "bench.yaml:29:76: broken: expected a number that s16 can carry, found '4000 degC'"},
      {"half a number", input, "as: s16, scale: 0.1 degC, broken: 1.5",
       "bench.yaml:29:76: broken: expected a number that s16 can carry, found '1.5'"},
      {"another unit", input, "as: s16, scale: 0.1 degC, broken: 4 A",
       "bench.yaml:29:76: broken: expected the number that is carried, such as 32767, or a value with its "
       "unit, found '4 A'"},
      {"a word", input, "as: s16, scale: 0.1 degC, broken: never",
       "bench.yaml:29:76: broken: expected the number that is carried, such as 32767, or a value with its "
       "unit, found 'never'"},
  };
  test::check_breakages(cases, "bench.yaml");
}

#pragma once

namespace emberline::test {

// Small files of each kind that load, for tests that then break them in one place.

inline constexpr const char* kBench = R"(bench: Test bench
supply: { system: three-phase, voltage: 400 V, frequency: 50 Hz, impedance: 8 mohm }
contactors: { main: { feeds: [soak-heater] } }
lines:
  field: { pty: /tmp/emberline/field, serial: 19200 8E1 }
  ethernet: { tcp: 127.0.0.1:1502 }
zones:
  soak: { mass: 180 kg, specific_heat: 900 J/kgK, loss: 38 W/K, start: 540 degC, sensor: { lag: 12 s } }
units:
  soak-heater:
    id: 1
    lines: [field, ethernet]
    registers: table.yaml
    rating: { voltage: 400 V, current: 63 A }
    firing: { mode: phase-angle, ramp: 500 ms }
    control: { variable: power, full_scale: 24 kW }
    limits: { current: 50 A }
    comms_loss: { lines: [field], timeout: 3 s, policy: latch-to-inhibit }
    relays: { K1: { on: [comms-loss] } }
    intake: { largest_block: 12, reads_per_second: 5 }
    load: { connection: star-4-wire, elements: 4 in parallel, cold_resistance: 22 ohm, heats: soak }
io_blocks:
  marshalling:
    id: 20
    lines: [ethernet]
    outputs_off_after: 10 s
    coils: { 0: soak-heater.terminal.enable, 8: main.closed }
    discrete: { 0: soak-heater.relay.K1 }
    input: { 0: { signal: soak.measured, as: s16, scale: 0.1 degC }, 1: soak.temperature }
)";

inline constexpr const char* kTable = R"(register_table: Test table
numbering: zero-based
word_order: high-first
holding:
  - { at: 0x0030, point: setpoint, as: u16, scale: 0.1 %, access: read-write, range: 0..100 % }
  - { at: 0x0031, point: comms_timeout, as: u16, scale: 0.1 s, access: read-write, kept: true }
  - { at: 0x0040, point: load_current_l1, as: u16, scale: 0.1 A }
  - { at: 0x0041, point: state, as: u16, values: { running: 10 } }
  - { at: 0x0042, point: warnings, as: u16, flags: { comms-loss: 15 } }
  - { at: 0x0043, point: trips, as: bit, bit: 3, flag: comms-loss }
  - { at: 0x0050, point: load_power, as: f32, word_order: low-first, split: refuse }
input: same-as-holding
)";

inline constexpr const char* kScenario = R"(scenario: Cable pulled
why: The unit has to latch.
bench: bench.yaml
clock: stepped
ends: 60 s
masters:
  plc:
    lines: [field, ethernet]
    timeout: 500 ms
    retries: 2
    program:
      - { at: 1 s, write: { marshalling.coil.0: on, marshalling.coil.8: on } }
      - { every: 2 s, read: [soak-heater.load_current_l1, soak.measured] }
      - { every: 2 s, control: soak-heater.setpoint, from: soak.measured, target: 560 degC, gain: 4 %/K, integral_time: 120 s }
    when_lost: { after: 3 failures, write: nothing }
    when_back: { write: { soak-heater.setpoint: 0 % } }
timeline:
  - { at: 30 s, restore: field }
  - { at: 20 s, cut: field }
expect:
  - { name: heats, from: 10 s, until: { cut: field }, always: { soak-heater.load_power: { above: 11 kW } } }
  - { name: latches, after: { cut: field }, not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited } }
  - { name: comes back at zero, after: { restore: field }, first_write: { soak-heater.setpoint: { at_most: 0 % } } }
)";

inline constexpr const char* kPollPlan = R"(poll_plan: Soak heater
bench: bench.yaml
line: field
master: { timeout: 500 ms, retries: 2 }
want:
  - { every: 1 s, read: [soak-heater.state, soak-heater.load_current_l1] }
  - { every: 2 s, read: soak-heater.load_power, write: soak-heater.setpoint }
)";

}  // namespace emberline::test

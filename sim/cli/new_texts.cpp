#include "sim/cli/new_texts.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/quantity.hpp"

namespace emberline::cli {
namespace {

using registers::Numbering;
using registers::Policy;

constexpr double kLoadShare = 0.8;   // of the rating, at full conduction and cold
constexpr double kScaleShare = 0.9;  // of that power: elements draw less when they are hot

constexpr const char* kCaution =
    "# A simulation: passing a rehearsal on it is no safety validation, and neither the comms watchdog nor "
    "the enable\n"
    "# terminal is a safety function or an emergency stop.\n";

/// `value` with so many significant digits, down.
double rounded_down(double value, int digits) {
  const double step = std::pow(10.0, std::floor(std::log10(value)) - digits + 1);
  return std::floor(value / step * (1.0 + 1e-9)) * step;
}

std::string quantity(double value, Dimension dimension) { return format_quantity(value, dimension); }

/// Of the one element of each leg.
double cold_resistance_ohm(const Answers& answers) {
  return rounded_down(answers.leg_voltage_V() / (kLoadShare * answers.rating_A), 3);
}

double full_power_W(const Answers& answers) {
  const double leg_V = answers.leg_voltage_V();
  return answers.phases() * leg_V * leg_V / cold_resistance_ohm(answers);
}

std::string line_text(const Answers& answers) {
  const auto place = yaml_text(answers.line);
  const auto serial = ", serial: " + to_text(answers.serial) + " }";
  const std::string head = "  " + new_line_name(answers) + ": { ";
  switch (answers.way) {
    case Answers::Way::tcp:
      return head + "tcp: " + place +
             " }   # keep to 127.0.0.1 unless others have to get in: Modbus knows no password\n";
    case Answers::Way::serial_port:
      return head + "serial-port: " + place + serial +
             "   # for us alone: keep it off the wires of a plant, where real units listen too\n";
    case Answers::Way::pty:
      break;
  }
  return head + "pty: " + place + serial + "   # the PLC program opens this path as its serial port\n";
}

/// One zone that all units heat; it warms by some 0.1 K/s and would end 800 K above ambient at full power.
std::string zone_text(const Answers& answers) {
  const double power_W = answers.units * full_power_W(answers);
  const double heat_capacity_J_per_K = rounded_down(power_W / 0.1, 2);
  const double mass_kg = rounded_down(std::max(heat_capacity_J_per_K / 900.0, 0.01), 2);
  const double loss_W_per_K = rounded_down(power_W / 800.0, 2);
  return "  chamber: { mass: " + quantity(mass_kg, Dimension::mass) +
         ", specific_heat: 900 J/kgK, loss: " + quantity(loss_W_per_K, Dimension::thermal_conductance) +
         ", ambient: 20 degC, start: 20 degC, sensor: { lag: 10 s, dead_time: 2 s } }\n";
}

std::string comms_loss_text(const Answers& answers) {
  std::string head = "    comms_loss:\n      timeout: " + yaml_time(answers.timeout) +
                     "   # how long it may run on when nobody commands it: decide this, and write down why\n";
  switch (answers.policy) {
    case Policy::hold_last_command:
      return head +
             "      policy: hold-last-command   # heats on blind, and only warns: somebody has to hear the "
             "alarm\n";
    case Policy::latch_to_inhibit:
      return head +
             "      policy: latch-to-inhibit    # off and latched, which can cost the charge\n"
             "      reset_by: [enable-cycle]    # comms back first, then the enable terminal opened and "
             "closed\n";
    case Policy::go_to_preset:
      return head +
             "      policy: go-to-preset        # until the next setpoint; polling alone does not end it\n"
             "      preset: " +
             quantity(answers.preset, Dimension::ratio) + "\n";
  }
  return head;
}

std::string unit_text(const Answers& answers, int index) {
  const auto rating = quantity(answers.rating_A, Dimension::current);
  return "  " + new_unit_name(index) + ":\n    id: " + std::to_string(answers.id + index) + "\n    lines: [" +
         new_line_name(answers) + "]\n    registers: " + kNewRegisters +
         "\n    rating:     { voltage: " + quantity(answers.voltage_V, Dimension::voltage) +
         ", current: " + rating +
         " }\n    firing:     { mode: phase-angle, ramp: 1 s }   # or burst-spread: whole cycles, evenly "
         "spread\n"
         "    control:    { variable: power, full_scale: " +
         quantity(new_full_scale_W(answers), Dimension::power) +
         " }   # what a setpoint of 100 % stands for\n"
         "    limits:     { current: " +
         rating + " }\n" + comms_loss_text(answers) +
         "    relays:     { K1: { on: [comms-loss] } }   # alarm: open on an alarm, and when the control "
         "supply goes\n"
         "    # intake:   { largest_block: 12, reads_per_second: 5, beyond: exception }   # what a small "
         "device can digest\n"
         "    load:       { " +
         (answers.three_phase ? "connection: star-4-wire, " : "") +
         "material: nickel-chromium, cold_resistance: " +
         quantity(cold_resistance_ohm(answers), Dimension::resistance) + ", heats: chamber }\n";
}

struct Row {
  int address;  ///< zero-based
  std::string keys;
};

std::string address_text(const Answers& answers, int zero_based) {
  switch (answers.numbering) {
    case Numbering::zero_based:
      return std::to_string(zero_based);
    case Numbering::one_based:
      return std::to_string(zero_based + 1);
    case Numbering::reference:
      return std::to_string(40001 + zero_based);
  }
  return {};
}

std::string numbering_text(const Answers& answers) {
  switch (answers.numbering) {
    case Numbering::zero_based:
      return "numbering: zero-based   # 'at' is the address on the wire\n";
    case Numbering::one_based:
      return "numbering: one-based    # 'at' is the address on the wire and 1\n";
    case Numbering::reference:
      return "numbering: reference    # 40001 is the holding register with address 0 on the wire\n";
  }
  return {};
}

/// The finest scale in which the power fits 16 bits with room to spare.
std::string power_scale(const Answers& answers) {
  const double highest_W = 1.2 * full_power_W(answers);
  for (const char* scale : {"1 W", "10 W", "100 W", "1 kW"})
    if (const auto step_W = parse_quantity(scale, Dimension::power); step_W && highest_W / *step_W < 65535.0)
      return scale;
  return "10 kW";
}

std::string rows_text(const Answers& answers, std::initializer_list<Row> rows) {
  std::string text;
  for (const auto& row : rows)
    text += "  - { at: " + address_text(answers, row.address) + ", " + row.keys + " }\n";
  return text;
}

}  // namespace

std::string yaml_text(const std::string& text) {
  const auto plain = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '/' ||
           c == '.' || c == '-' || c == '_' || c == ' ';
  };
  const auto letter_or_slash = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '/';
  };
  if (std::all_of(text.begin(), text.end(), plain) && letter_or_slash(text.front()) && text.back() != ' ')
    return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') quoted += '\\';
    quoted += c;
  }
  return quoted + "\"";
}

std::string yaml_time(Duration time) {
  const auto ms = std::chrono::duration_cast<std::chrono::milliseconds>(time).count();
  return ms % 1000 == 0 ? std::to_string(ms / 1000) + " s" : std::to_string(ms) + " ms";
}

std::string new_unit_name(int index) { return "heater-" + std::to_string(index + 1); }

std::string new_line_name(const Answers& answers) {
  return answers.way == Answers::Way::tcp ? "ethernet" : "field";
}

double new_full_scale_W(const Answers& answers) {
  return rounded_down(kScaleShare * full_power_W(answers), 2);
}

std::string new_bench(const Answers& answers) {
  std::string text = "# What is installed. Every key, with its default: config/README.md of Emberline.\n#\n" +
                     std::string(kCaution) + "bench: " + yaml_text(answers.name) + "\nformat: 1" +
                     "\nsupply: { system: " + (answers.three_phase ? "three-phase" : "single-phase") +
                     ", voltage: " + quantity(answers.voltage_V, Dimension::voltage) +
                     ", frequency: " + quantity(answers.frequency_Hz, Dimension::frequency) + " }   # RMS" +
                     (answers.three_phase ? ", line to line" : "") +
                     "; impedance: 8 mohm would make it sag\nlines:\n" + line_text(answers) +
                     "zones:   # a guess; put in the mass and the losses of yours\n" + zone_text(answers) +
                     "units:\n";
  for (int i = 0; i < answers.units; ++i) text += unit_text(answers, i);
  return text;
}

std::string new_registers(const Answers& answers) {
  return "# Which value stands at which address. An invented map, of no device: write yours from the manual "
         "of the one\n"
         "# that will really be installed. `emberline registers FILE` lists it with both ways of counting "
         "addresses.\n"
         "register_table: " +
         yaml_text(answers.name) + "\nformat: 1\n" + numbering_text(answers) +
         "word_order: high-first   # of 32-bit values; or low-first\n"
         "holding:\n"
         "  # Commands and settings\n" +
         rows_text(answers, {{100, "point: setpoint, scale: 0.1 %, access: read-write, range: 0..100 %"},
                             {101, "point: reset, access: read-write"},
                             {102, "point: heartbeat, access: read-write"},
                             {103, "point: comms_timeout, scale: 10 ms, access: read-write, kept: true"},
                             {104, "point: comms_policy, access: read-write, kept: true"}}) +
         "  # What a PLC polls, in one block\n" +
         rows_text(answers, {{110, "point: state"},
                             {111, "point: load_power, scale: " + power_scale(answers)},
                             {112, "point: load_current, scale: 0.1 A"},
                             {113, "point: load_voltage, scale: 0.1 V"},
                             {114, "point: output, scale: 0.1 %"},
                             {115, "point: warnings"},
                             {116, "point: trips"},
                             {117, "point: comms_age, scale: 10 ms"},
                             {118, "point: energy, as: u32, scale: 0.1 kWh"}}) +
         "input: same-as-holding\n";
}

}  // namespace emberline::cli

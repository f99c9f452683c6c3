#include "sim/cli/new_answers.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/duration_text.hpp"
#include "sim/base/listed.hpp"
#include "sim/base/plain_text.hpp"
#include "sim/base/quantity.hpp"

namespace emberline::cli {
namespace {

using namespace std::chrono_literals;
using registers::Numbering;
using registers::Policy;

constexpr int kLastId = 247;    // Serial Line V1.02, 2.2: 248 to 255 are reserved
constexpr int kMostUnits = 32;  // Serial Line V1.02, 3.4: devices on a line without a repeater
constexpr Duration kShortestTimeout = 200ms;
constexpr Duration kLongestTimeout = 10min;

std::string expected(std::string_view what, const std::string& found) {
  return "expected " + std::string(what) + ", found '" + found + "'";
}

/// A quantity within limits; else what is wrong.
std::string take_quantity(const std::string& text, Dimension dimension, double lowest, double highest,
                          double& into) {
  const auto value = parse_quantity(text, dimension);
  if (!value) return value.error();
  if (*value < lowest || *value > highest)
    return "expected " + format_quantity(lowest, dimension) + " to " + format_quantity(highest, dimension) +
           ", found '" + text + "'";
  into = *value;
  return {};
}

std::string take_whole(const std::string& text, int lowest, int highest, int& into) {
  int value = 0;
  const auto* end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, value);
  if (error != std::errc{} || rest != end || value < lowest || value > highest)
    return expected("a whole number from " + std::to_string(lowest) + " to " + std::to_string(highest), text);
  into = value;
  return {};
}

template <class T, std::size_t N>
std::string take_word(const std::string& text, const std::pair<std::string_view, T> (&words)[N], T& into) {
  std::vector<std::string> known;
  for (const auto& [word, value] : words) {
    if (text == word) {
      into = value;
      return {};
    }
    known.emplace_back(word);
  }
  const auto near = nearest(text, known);
  return expected("one of " + listed(known), text) +
         (near.empty() ? "" : "; did you mean '" + std::string(near) + "'?");
}

std::string take_name(const std::string& text, Answers& answers) {
  if (one_line(text) != text) return "a name has no control characters";
  if (text.empty() || text.size() > 80) return "expected a name of 1 to 80 characters";
  answers.name = text;
  return {};
}

std::string take_voltage(const std::string& text, Answers& answers) {
  return take_quantity(text, Dimension::voltage, 12.0, 1000.0, answers.voltage_V);
}

std::string take_system(const std::string& text, Answers& answers) {
  static constexpr std::pair<std::string_view, bool> kSystems[] = {{"three-phase", true},
                                                                   {"single-phase", false}};
  return take_word(text, kSystems, answers.three_phase);
}

std::string take_frequency(const std::string& text, Answers& answers) {
  return take_quantity(text, Dimension::frequency, 10.0, 1000.0, answers.frequency_Hz);
}

std::string take_units(const std::string& text, Answers& answers) {
  return take_whole(text, 1, kMostUnits, answers.units);
}

std::string take_rating(const std::string& text, Answers& answers) {
  return take_quantity(text, Dimension::current, 1.0, 5000.0, answers.rating_A);
}

std::string take_line(const std::string& text, Answers& answers) {
  const auto colon = text.rfind(':');
  int port = -1;
  if (text.starts_with('/') && text.size() > 1) {
    // Nobody wants a link among the devices; a path there is a tty that exists, or will.
    answers.way = text.starts_with("/dev/") ? Answers::Way::serial_port : Answers::Way::pty;
  } else if (colon != std::string::npos && colon > 0 && text.find_first_of(" \t") == std::string::npos &&
             take_whole(text.substr(colon + 1), 0, 65535, port).empty()) {
    answers.way = Answers::Way::tcp;
  } else {
    return expected(
        "a path such as /tmp/emberline/field, a tty such as /dev/ttyUSB0, or HOST:PORT such as "
        "127.0.0.1:1502",
        text);
  }
  answers.line = text;
  return {};
}

std::string take_serial(const std::string& text, Answers& answers) {
  const auto format = parse_serial_format(text);
  if (!format) return format.error();
  answers.serial = *format;
  return {};
}

std::string take_policy(const std::string& text, Answers& answers) {
  static constexpr std::pair<std::string_view, Policy> kPolicies[] = {
      {"hold-last-command", Policy::hold_last_command},
      {"latch-to-inhibit", Policy::latch_to_inhibit},
      {"go-to-preset", Policy::go_to_preset}};
  return take_word(text, kPolicies, answers.policy);
}

std::string take_timeout(const std::string& text, Answers& answers) {
  double seconds = 0.0;
  auto wrong = take_quantity(text, Dimension::time, to_seconds(kShortestTimeout), to_seconds(kLongestTimeout),
                             seconds);
  if (wrong.empty()) answers.timeout = std::chrono::milliseconds(std::llround(seconds * 1000.0));
  return wrong;
}

std::string take_preset(const std::string& text, Answers& answers) {
  return take_quantity(text, Dimension::ratio, 0.0, 1.0, answers.preset);
}

std::string take_id(const std::string& text, Answers& answers) {
  return take_whole(text, 1, kLastId, answers.id);
}

std::string take_numbering(const std::string& text, Answers& answers) {
  static constexpr std::pair<std::string_view, Numbering> kNumberings[] = {
      {"zero-based", Numbering::zero_based},
      {"one-based", Numbering::one_based},
      {"reference", Numbering::reference}};
  return take_word(text, kNumberings, answers.numbering);
}

std::string nothing_wrong(const Answers& /*answers*/) { return {}; }

std::string check_timeout(const Answers& answers) {
  if (answers.polling_period()) return {};
  return "asking every unit once takes " + format_duration(answers.polling_round()) +
         " on this line, which is too long for a timeout of " + format_duration(answers.timeout) +
         ": expected fewer units, a faster line or a longer timeout";
}

std::string check_ids(const Answers& answers) {
  if (answers.id + answers.units - 1 <= kLastId) return {};
  return std::to_string(answers.units) + " units from id " + std::to_string(answers.id) +
         " on go past the last id, " + std::to_string(kLastId);
}

std::string_view always(const Answers& /*answers*/) { return {}; }

std::string_view with_serial_line(const Answers& answers) {
  return answers.way == Answers::Way::tcp ? "a TCP line has no speed: leave it out" : "";
}

std::string_view with_preset(const Answers& answers) {
  return answers.policy != Policy::go_to_preset ? "only go-to-preset has a preset" : "";
}

constexpr std::array<Field, kFieldCount> kFields{{
    {"--name", "Test furnace", "What the installation is called", take_name, always},
    {"--voltage", "400 V", "Supply voltage, RMS, line to line on three phases", take_voltage, always},
    {"--system", "three-phase", "three-phase or single-phase", take_system, always},
    {"--frequency", "50 Hz", "Of the supply", take_frequency, always},
    {"--units", "1", "How many power controllers", take_units, always},
    {"--rating", "63 A", "Rated current of each", take_rating, always},
    {"--line", "/tmp/emberline/field",
     "A path for a pseudo-terminal, /dev/... for a serial port, or HOST:PORT for Modbus TCP", take_line,
     always},
    {"--serial", "19200 8E1", "Speed and format, not with TCP", take_serial, with_serial_line},
    {"--policy", "latch-to-inhibit", "On comms loss: hold-last-command, latch-to-inhibit or go-to-preset",
     take_policy, always},
    {"--timeout", "3 s", "Silence after which comms are lost", take_timeout, always},
    {"--preset", "20 %", "Setpoint that go-to-preset goes to", take_preset, with_preset},
    {"--id", "1", "Unit id (slave address) of the first unit", take_id, always},
    {"--numbering", "zero-based", "How addresses count: zero-based, one-based or reference (4xxxx)",
     take_numbering, always},
}};

constexpr Question kQuestions[] = {
    {"What is the installation called?", 0, 1, nothing_wrong},
    {"The supply: voltage, three-phase or single-phase, frequency?", 1, 3, nothing_wrong},
    {"Power controllers: how many, and for how many amperes each?", 4, 2, nothing_wrong},
    {"The line: a path for a pseudo-terminal, /dev/... for a serial port, or HOST:PORT for Modbus TCP; speed "
     "and format?",
     6, 2, nothing_wrong},
    {"Nobody asks any more: hold-last-command, latch-to-inhibit or go-to-preset; after how long; preset?", 8,
     3, check_timeout},
    {"Unit id of the first one; addresses in its manual are zero-based, one-based or reference (4xxxx)?", 11,
     2, check_ids},
};

}  // namespace

double Answers::leg_voltage_V() const { return three_phase ? voltage_V / std::sqrt(3.0) : voltage_V; }

Duration Answers::polling_round() const {
  constexpr std::size_t kCharacters = 8 + 9;  // a request, and an answer with two registers
  constexpr Duration kTcp = 1ms;
  constexpr Duration kTurnaround = 10ms;
  if (way == Way::tcp) return units * kTcp;
  return units * (characters_time(serial, kCharacters) + 2 * t3_5(serial) + kTurnaround);
}

std::optional<Duration> Answers::polling_period() const {
  for (const Duration period :
       {Duration{2s}, Duration{1s}, Duration{500ms}, Duration{200ms}, Duration{100ms}, Duration{50ms}})
    if (3 * period <= timeout) return period >= 2 * polling_round() ? std::optional(period) : std::nullopt;
  return std::nullopt;
}

std::span<const Field> fields() { return kFields; }
std::span<const Question> questions() { return kQuestions; }

}  // namespace emberline::cli

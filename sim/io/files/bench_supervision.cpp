#include <algorithm>
#include <string>
#include <string_view>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

using registers::Policy;
using unit::CommsLossSpec;

constexpr std::string_view kCommsLossExample = "{ timeout: 3 s, policy: latch-to-inhibit }";
constexpr std::string_view kWhyTimeout =
    "it has no default, because how long a heater runs on when nobody commands it has to be decided: for "
    "instance '3 s', or '0 s' for no supervision at all";
constexpr std::string_view kWhyPolicy = "expected 'hold-last-command', 'latch-to-inhibit' or 'go-to-preset'";
constexpr int kMostFrames = 1000;
constexpr int kMostRegisters = 125;  // MODBUS Application Protocol V1.1b3, 6.3
constexpr int kMostReads = 100'000;

const Choice<unit::ResetBy> kResets[] = {{"enable-cycle", unit::ResetBy::enable_cycle},
                                         {"reset-terminal", unit::ResetBy::reset_terminal},
                                         {"reset-register", unit::ResetBy::reset_register}};

/// A watchdog that waits for a register the table does not offer would wait for ever.
bool master_can_write(const unit::UnitSpec& unit, registers::Point point) {
  if (unit.table == nullptr) return true;  // complained about elsewhere
  const auto* row = unit.table->find(point, true);
  return row != nullptr && row->access != registers::Access::read_only;
}

void read_counting_lines(Fields& fields, unit::UnitSpec& unit, Problems& problems) {
  const bool must_choose = unit.lines.size() > 1;
  const auto* node =
      must_choose ? fields.required("lines",
                                    "the unit has more than one line, and a dead PLC must not hide behind "
                                    "somebody else's polling: say which lines count")
                  : fields.optional("lines");
  if (node == nullptr) {
    unit.comms_loss.lines = unit.lines;
    return;
  }
  for (const auto* item : read_list(node, problems)) {
    const bool known = std::find(unit.lines.begin(), unit.lines.end(), item->text) != unit.lines.end();
    if (known) {
      unit.comms_loss.lines.push_back(item->text);
    } else if (!unit.lines.empty()) {
      complain(problems, item->place,
               "lines: the unit is not on line '" + item->text + "'; its lines: " + listed(unit.lines));
    }
  }
}

void read_policy(Fields& fields, CommsLossSpec& spec, Problems& problems) {
  static constexpr Choice<Policy> kPolicies[] = {{"hold-last-command", Policy::hold_last_command},
                                                 {"latch-to-inhibit", Policy::latch_to_inhibit},
                                                 {"go-to-preset", Policy::go_to_preset}};
  const bool known = read_word(fields.required("policy", kWhyPolicy), kPolicies, spec.policy, problems);
  if (known && spec.policy != Policy::go_to_preset)
    return fields.refuse("preset", "only 'policy: go-to-preset' has a preset");
  const auto* preset = known ? fields.required("preset", "expected the setpoint to go to, such as '20 %'")
                             : fields.optional("preset");
  if (read_quantity(preset, Dimension::ratio, Bound::not_negative, spec.preset, problems) &&
      spec.preset > 1.0)
    complain_kind(*preset, "a percentage from 0 % to 100 %", problems);
}

void read_feeds(const Node* node, unit::UnitSpec& unit, Problems& problems) {
  static constexpr Choice<unit::Feeds> kFeeds[] = {{"any-request", unit::Feeds::any_request},
                                                   {"good-request", unit::Feeds::good_request},
                                                   {"write", unit::Feeds::write},
                                                   {"heartbeat", unit::Feeds::heartbeat}};
  if (!read_word(node, kFeeds, unit.comms_loss.feeds, problems)) return;
  if (unit.comms_loss.feeds == unit::Feeds::heartbeat && !master_can_write(unit, registers::Point::heartbeat))
    complain(problems, node->place, "feeds: the register table has no 'heartbeat' that could be written");
}

std::uint32_t bit_of(std::span<const registers::Word> words, std::string_view name) {
  for (const auto& word : words)
    if (word.first == name) return 1U << static_cast<unsigned>(word.second);
  return 0;
}

/// Words of warnings and trips, those of both once.
std::vector<std::string> known_causes() {
  std::vector<std::string> known;
  for (const auto words : {registers::warning_words(), registers::trip_words()})
    for (const auto& word : words)
      if (std::find(known.begin(), known.end(), word.first) == known.end()) known.emplace_back(word.first);
  return known;
}

void read_causes(const Node* node, unit::RelaySpec& relay, Problems& problems) {
  for (const auto* item : read_list(node, problems)) {
    const auto warnings = bit_of(registers::warning_words(), item->text);
    const auto trips = bit_of(registers::trip_words(), item->text);
    if (warnings == 0 && trips == 0) {
      complain(problems, item->place, "on: " + unknown("warning or trip", item->text, known_causes()));
    } else {
      relay.on_warnings |= warnings;
      relay.on_trips |= trips;
    }
  }
}

bool is_relay_name(std::string_view name) {
  return std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '-' || c == '_';
  });
}

}  // namespace

void read_resets(const Node* node, std::vector<unit::ResetBy>& resets, const unit::UnitSpec& unit,
                 Problems& problems) {
  if (node == nullptr) return;
  resets.clear();
  for (const auto* item : read_list(node, problems)) {
    unit::ResetBy reset{};
    if (!read_word(item, kResets, reset, problems)) continue;
    if (reset == unit::ResetBy::reset_register && !master_can_write(unit, registers::Point::reset)) {
      complain(problems, item->place, "reset_by: the register table has no 'reset' that could be written");
    }
    resets.push_back(reset);
  }
}

void read_comms_loss(const Node* node, unit::UnitSpec& unit, Problems& problems) {
  if (node == nullptr) return;
  auto& spec = unit.comms_loss;
  Fields fields(*node, kCommsLossExample, problems);
  read_counting_lines(fields, unit, problems);
  read_duration(fields.required("timeout", kWhyTimeout), Bound::not_negative, spec.timeout, problems);
  read_policy(fields, spec, problems);
  read_resets(fields.optional("reset_by"), spec.reset_by, unit, problems);
  read_feeds(fields.optional("feeds"), unit, problems);
  static constexpr Choice<unit::ArmedFrom> kFrom[] = {{"first-request", unit::ArmedFrom::first_request},
                                                      {"power-up", unit::ArmedFrom::power_up}};
  read_word(fields.optional("from"), kFrom, spec.from, problems);
  static constexpr Choice<unit::ActsIn> kActsIn[] = {{"remote", unit::ActsIn::remote},
                                                     {"always", unit::ActsIn::always}};
  read_word(fields.optional("acts_in"), kActsIn, spec.acts_in, problems);
  read_whole(fields.optional("restored_after"), {1, kMostFrames, "frames"}, spec.restored_after, problems);
  static constexpr Choice<unit::SetpointAfterReset> kAfter[] = {{"zero", unit::SetpointAfterReset::zero},
                                                                {"keep", unit::SetpointAfterReset::keep}};
  read_word(fields.optional("setpoint_after_reset"), kAfter, spec.setpoint_after_reset, problems);
  read_switch(fields.optional("latch_survives_power"), spec.latch_survives_power, problems);
  fields.done();
}

void read_relays(const Node* node, std::vector<unit::RelaySpec>& relays, Problems& problems) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::mapping)
    return complain_kind(*node, "relays such as { K1: { on: [comms-loss] } }", problems);
  for (const auto& entry : node->entries) {
    unit::RelaySpec relay;
    relay.name = entry.label;
    if (!is_relay_name(relay.name))
      complain(problems, entry.header,
               "'" + relay.name + "' cannot be the name of a relay: expected letters, digits, '-' and '_'");
    Fields fields(entry, "{ on: [comms-loss] }", problems);
    read_causes(fields.required("on", "expected the warnings or trips it acts on"), relay, problems);
    static constexpr Choice<unit::Coil> kCoils[] = {
        {"energised-when-healthy", unit::Coil::energised_when_healthy},
        {"energised-on-alarm", unit::Coil::energised_on_alarm}};
    read_word(fields.optional("coil"), kCoils, relay.coil, problems);
    static constexpr Choice<unit::Contact> kContacts[] = {
        {"normally-open", unit::Contact::normally_open}, {"normally-closed", unit::Contact::normally_closed}};
    read_word(fields.optional("contact"), kContacts, relay.contact, problems);
    fields.done();
    relays.push_back(std::move(relay));
  }
}

void read_intake(const Node* node, unit::IntakeSpec& intake, Problems& problems) {
  if (node == nullptr) return;
  Fields fields(*node, "{ largest_block: 12, reads_per_second: 5, beyond: exception }", problems);
  read_whole(fields.optional("largest_block"), {1, kMostRegisters, "registers"}, intake.largest_block,
             problems);
  read_whole(fields.optional("reads_per_second"), {1, kMostReads}, intake.reads_per_second, problems);
  static constexpr Choice<unit::Beyond> kBeyond[] = {{"accept", unit::Beyond::accept},
                                                     {"exception", unit::Beyond::exception},
                                                     {"delay", unit::Beyond::delay}};
  read_word(fields.optional("beyond"), kBeyond, intake.beyond, problems);
  fields.done();
}

}  // namespace emberline::io

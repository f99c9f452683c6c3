#include "sim/modbus/diagnostics.hpp"

#include <algorithm>

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {
namespace {

// Sub-functions of 08 (Application Protocol V1.1b3, 6.8.1).
enum SubFunction : std::uint16_t {
  kLoopBack = 0x00,
  kRestart = 0x01,
  kDiagnosticRegister = 0x02,
  kAsciiDelimiter = 0x03,
  kForceListenOnly = 0x04,
  kClearCounters = 0x0A,
  kClearOverrun = 0x14,
};
constexpr std::uint16_t kRestartClearingLog = 0xFF00;
constexpr std::size_t kLength = 5;  // function code, sub-function, data; the loop-back alone may differ

// Event bytes of 0C (Application Protocol V1.1b3, 6.10).
constexpr unsigned kReceive = 0x80;
constexpr unsigned kReceiveCommError = 0x02;
constexpr unsigned kReceiveOverrun = 0x10;
constexpr unsigned kListenOnly = 0x20;  // in both kinds
constexpr unsigned kReceiveBroadcast = 0x40;
constexpr unsigned kSend = 0x40;
constexpr unsigned kEnteredListenOnly = 0x04;
constexpr unsigned kCommunicationsRestart = 0x00;

constexpr auto kNakExceptionCode = std::uint8_t{0x07};

std::uint16_t word_at(ByteView bytes, std::size_t index) {
  return static_cast<std::uint16_t>((static_cast<unsigned>(bytes[index]) << 8u) | bytes[index + 1]);
}
void append(Bytes& bytes, std::uint16_t word) {
  bytes.push_back(static_cast<std::uint8_t>(word >> 8u));
  bytes.push_back(static_cast<std::uint8_t>(word & 0xFFu));
}

bool is_sound_restart(ByteView pdu) {
  if (pdu.size() != kLength || static_cast<Function>(pdu[0]) != Function::diagnostics) return false;
  const auto data = word_at(pdu, 3);
  return word_at(pdu, 1) == kRestart && (data == 0 || data == kRestartClearingLog);
}

bool fetches_events(ByteView pdu) {
  const auto function = static_cast<Function>(pdu[0]);
  return function == Function::get_comm_event_counter || function == Function::get_comm_event_log;
}

/// The bit of a send event that an exception sets.
unsigned exception_bit(std::uint8_t exception_code) {
  if (exception_code >= 1 && exception_code <= 3) return 0x01;
  if (exception_code == 4) return 0x02;
  if (exception_code == 5 || exception_code == 6) return 0x04;
  return exception_code == kNakExceptionCode ? 0x08u : 0u;
}

}  // namespace

void Diagnostics::heard(Heard what) {
  if (what == Heard::good_frame) {
    ++counters_.bus_messages;
    return;
  }
  ++counters_.bus_comm_errors;
  unsigned event = kReceive | kReceiveCommError;
  if (what == Heard::overrun) {
    ++counters_.overruns;
    overrun_flag_ = true;
    event |= kReceiveOverrun;
  }
  note(event | (listen_only_ ? kListenOnly : 0u));
}

bool Diagnostics::begin(ByteView pdu, bool broadcast) {
  note(kReceive | (listen_only_ ? kListenOnly : 0u) | (broadcast ? kReceiveBroadcast : 0u));
  if (listen_only_ && (broadcast || !is_sound_restart(pdu))) {
    ++counters_.no_responses;
    return false;
  }
  ++counters_.server_messages;
  just_cleared_ = false;
  return true;
}

void Diagnostics::end(ByteView pdu, const std::optional<Bytes>& answer, bool broadcast) {
  const auto refused = answer ? refusal_of(*answer) : std::nullopt;
  const auto exception_code = refused ? static_cast<std::uint8_t>(*refused) : std::uint8_t{0};
  const bool sent = answer && !broadcast;
  if (!sent) ++counters_.no_responses;
  if (refused) ++counters_.bus_exceptions;
  if (sent && refused == Refusal::server_device_busy) ++counters_.busy;
  if (sent && exception_code == kNakExceptionCode) ++counters_.naks;
  if (answer && !refused && !just_cleared_ && !fetches_events(pdu)) ++events_;
  note(kSend | (listen_only_ ? kListenOnly : 0u) | (sent ? exception_bit(exception_code) : 0u));
  if (restart_ != Restart::none) restart();
}

std::optional<Bytes> Diagnostics::answer(ByteView pdu) {
  const auto function = static_cast<Function>(pdu[0]);
  if (function == Function::diagnostics) return diagnose(pdu);
  if (pdu.size() != 1) return exception_pdu(pdu[0], Refusal::illegal_data_value);
  if (function == Function::get_comm_event_log) return event_log();
  Bytes reply{pdu[0]};
  append(reply, 0);  // status: no program command is ever under way
  append(reply, events_);
  return reply;
}

std::optional<Bytes> Diagnostics::diagnose(ByteView pdu) {
  const auto refuse = [&](Refusal refusal) { return exception_pdu(pdu[0], refusal); };
  const Bytes echo(pdu.begin(), pdu.end());
  if (pdu.size() < 3) return refuse(Refusal::illegal_data_value);  // half a sub-function
  const auto sub_function = word_at(pdu, 1);
  if (sub_function == kLoopBack) return echo;

  const auto value = counter(sub_function);
  const bool known = value || sub_function == kRestart || sub_function == kAsciiDelimiter ||
                     sub_function == kForceListenOnly || sub_function == kClearCounters ||
                     sub_function == kClearOverrun;
  if (!known) return refuse(Refusal::illegal_function);
  if (pdu.size() != kLength) return refuse(Refusal::illegal_data_value);
  const auto data = word_at(pdu, 3);
  if (sub_function == kRestart) {
    if (!is_sound_restart(pdu)) return refuse(Refusal::illegal_data_value);
    restart_ = data == 0 ? Restart::keep_log : Restart::clear_log;
    if (listen_only_) return std::nullopt;
    return echo;
  }
  if (sub_function == kAsciiDelimiter) {
    // A character and a zero. Frames of the RTU mode have no delimiter that it could replace.
    if ((data & 0xFFu) != 0) return refuse(Refusal::illegal_data_value);
    return echo;
  }
  if (data != 0) return refuse(Refusal::illegal_data_value);
  if (value) {
    Bytes reply{pdu[0]};
    append(reply, sub_function);
    append(reply, *value);
    return reply;
  }
  if (sub_function == kForceListenOnly) {
    listen_only_ = true;
    note(kEnteredListenOnly);
    return std::nullopt;
  }
  if (sub_function == kClearCounters) {
    clear_counters();
  } else {
    counters_.overruns = 0;
    overrun_flag_ = false;
  }
  return echo;
}

std::optional<std::uint16_t> Diagnostics::counter(std::uint16_t sub_function) const {
  switch (sub_function) {
    case kDiagnosticRegister:
      return overrun_flag_ ? std::uint16_t{1} : std::uint16_t{0};
    case 0x0B:
      return counters_.bus_messages;
    case 0x0C:
      return counters_.bus_comm_errors;
    case 0x0D:
      return counters_.bus_exceptions;
    case 0x0E:
      return counters_.server_messages;
    case 0x0F:
      return counters_.no_responses;
    case 0x10:
      return counters_.naks;
    case 0x11:
      return counters_.busy;
    case 0x12:
      return counters_.overruns;
    default:
      return std::nullopt;
  }
}

Bytes Diagnostics::event_log() const {
  constexpr std::size_t kBefore = 6;  // status, event count and message count
  Bytes reply{static_cast<std::uint8_t>(Function::get_comm_event_log),
              static_cast<std::uint8_t>(kBefore + log_.size())};
  append(reply, 0);
  append(reply, events_);
  append(reply, counters_.bus_messages);
  reply.insert(reply.end(), log_.begin(), log_.end());
  return reply;
}

void Diagnostics::note(unsigned event) {
  log_.push_front(static_cast<std::uint8_t>(event));
  if (log_.size() > kLogMax) log_.pop_back();
}

void Diagnostics::clear_counters() {
  counters_ = {};
  events_ = 0;
  overrun_flag_ = false;
  just_cleared_ = true;
}

void Diagnostics::restart() {
  clear_counters();
  listen_only_ = false;
  if (restart_ == Restart::clear_log) log_.clear();
  restart_ = Restart::none;
  note(kCommunicationsRestart);
}

}  // namespace emberline::modbus

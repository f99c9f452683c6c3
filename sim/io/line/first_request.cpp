#include "sim/io/line/first_request.hpp"

#include <algorithm>

#include "sim/modbus/crc.hpp"

namespace emberline::io {
namespace {

constexpr std::uint8_t kBroadcast = 0;

// Frames are told apart by their lengths even on lines with strict timing: nobody is answered yet, and the
// session judges the frame again. What a general-purpose system adds between bytes is no silence.
modbus::RtuFramer::Timing patient(const bench::LineSpec& line) {
  const Duration system_gap = std::chrono::milliseconds{50};
  const Duration silence = line.frame_silence.value_or(std::max(t3_5(line.serial), system_gap));
  return {.inside_frame_max = silence, .between_frames_min = silence};
}

}  // namespace

FirstRequest::FirstRequest(const bench::BenchSpec& spec, std::size_t line)
    : spec_(spec),
      line_(line),
      rtu_line_(bench::carries_rtu(spec.lines.at(line).kind)),
      rtu_(patient(spec.lines.at(line))) {
  if (spec.lines.at(line).kind != bench::LineKind::serial_port) return;
  modbus::RtuFramer::Ids ids;
  for (const auto& slave : spec.slaves_on(line)) ids.set(static_cast<std::size_t>(slave.id));
  rtu_.share_with_others(ids);
}

bool FirstRequest::answers(int id) const {
  if (rtu_line_ && id == kBroadcast) return !spec_.slaves_on(line_).empty();
  return spec_.slave_on(line_, id).has_value();
}

std::optional<modbus::Bytes> FirstRequest::rtu_frame(std::uint8_t byte, SimTime at) {
  rtu_.receive({&byte, 1}, at);
  std::optional<modbus::Bytes> frame;
  while (const auto outcome = rtu_.poll(at)) {
    const auto* request = std::get_if<modbus::RtuRequest>(&*outcome);
    if (request != nullptr && answers(request->address))
      frame = modbus::rtu_frame(request->address, request->pdu);
  }
  return frame;
}

std::optional<modbus::Bytes> FirstRequest::tcp_frame(std::uint8_t byte) {
  mbap_.receive({&byte, 1});
  unfinished_.push_back(byte);
  std::optional<modbus::Bytes> frame;
  while (const auto outcome = mbap_.poll()) {
    unfinished_.clear();
    const auto* request = std::get_if<modbus::MbapRequest>(&*outcome);
    lost_ = lost_ || request == nullptr;
    if (request != nullptr && answers(request->unit))
      frame = modbus::mbap_frame(request->transaction, request->unit, request->pdu);
  }
  lost_ = lost_ || mbap_.passes_over();
  return frame;
}

// Byte by byte, so that what is behind the request stays as it came.
std::optional<modbus::Bytes> FirstRequest::in(modbus::ByteView bytes, SimTime at) {
  for (std::size_t i = 0; i < bytes.size() && !lost_; ++i) {
    auto frame = rtu_line_ ? rtu_frame(bytes[i], at) : tcp_frame(bytes[i]);
    if (!frame) continue;
    const auto rest = bytes.subspan(i + 1);
    frame->insert(frame->end(), rest.begin(), rest.end());
    return frame;
  }
  return std::nullopt;
}

}  // namespace emberline::io

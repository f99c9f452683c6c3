// Bytes and gaps to the RTU framer. An input is a byte with the mode, then pieces: gap, length, bytes.
#include "sim/modbus/rtu_framer.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "sim/modbus/crc.hpp"
#include "tests/fuzz/fuzz.hpp"
#include "tests/sim/modbus/outcomes.hpp"

using namespace emberline;
using fuzz::must;

namespace {

constexpr modbus::RtuFramer::Timing kTiming{std::chrono::microseconds{750}, std::chrono::microseconds{1750},
                                            false, Duration{}};
constexpr Duration kGapUnit = std::chrono::microseconds{50};

struct Piece {
  SimTime at;
  modbus::ByteView bytes;
};

std::vector<Piece> pieces_of(fuzz::Input& input) {
  std::vector<Piece> pieces;
  SimTime at{};
  while (!input.empty()) {
    at += kGapUnit * input.byte();
    pieces.push_back({at, input.bytes(input.byte())});
  }
  return pieces;
}

using Outcomes = std::vector<modbus::RtuFramer::Outcome>;

void fetch(modbus::RtuFramer& framer, SimTime now, Outcomes& outcomes) {
  while (auto outcome = framer.poll(now)) outcomes.push_back(std::move(*outcome));
}

Outcomes run(const std::vector<Piece>& pieces, modbus::RtuFramer::Timing timing, bool byte_by_byte) {
  modbus::RtuFramer framer(timing);
  Outcomes outcomes;
  SimTime now{};
  for (const auto& piece : pieces) {
    now = piece.at;
    if (byte_by_byte) {
      for (const auto& byte : piece.bytes) framer.receive({&byte, 1}, now);
    } else {
      framer.receive(piece.bytes, now);
    }
    fetch(framer, now, outcomes);
  }
  while (const auto wake = framer.wake_at()) {
    now = std::max(now, *wake);
    const auto before = outcomes.size();
    fetch(framer, now, outcomes);
    must(outcomes.size() > before, "there is something to fetch at the instant it names");
  }
  return outcomes;
}

/// Every byte that came is in exactly one outcome, in order; only too long ones are cut.
void check_bytes(const std::vector<Piece>& pieces, const Outcomes& outcomes) {
  modbus::Bytes stream;
  for (const auto& piece : pieces) stream.insert(stream.end(), piece.bytes.begin(), piece.bytes.end());
  std::size_t index = 0;
  bool cut = false;
  for (const auto& outcome : outcomes) {
    modbus::Bytes bytes;
    if (const auto* request = std::get_if<modbus::RtuRequest>(&outcome)) {
      must(!request->pdu.empty() && request->pdu.size() <= modbus::kPduMax, "a request holds a PDU");
      bytes = modbus::rtu_frame(request->address, request->pdu);
      must(modbus::crc16(bytes) == 0, "a request came with a good CRC");
    } else {
      const auto& fault = std::get<modbus::RtuFault>(outcome);
      must(!fault.bytes.empty() && fault.bytes.size() <= 256, "a fault holds 1 to 256 bytes");
      bytes = fault.bytes;
    }
    const auto found = std::search(stream.begin() + static_cast<std::ptrdiff_t>(index), stream.end(),
                                   bytes.begin(), bytes.end());
    must(found != stream.end(), "what it gives has come, and in this order");
    const auto at = static_cast<std::size_t>(found - stream.begin());
    must(at == index || cut, "no byte is passed over");
    index = at + bytes.size();
    const auto* fault = std::get_if<modbus::RtuFault>(&outcome);
    cut = cut || (fault != nullptr && fault->kind == modbus::RtuFault::Kind::too_long);
  }
  must(index == stream.size() || cut, "no byte is left over");
}

/// Strict timing told once more, with all bytes there: silences of t3.5 cut, one of t1.5 spoils.
std::vector<std::string> strictly(const std::vector<Piece>& pieces) {
  std::vector<std::string> texts;
  modbus::Bytes frame;
  bool torn = false;
  SimTime last{};
  const auto end = [&] {
    using Kind = modbus::RtuFault::Kind;
    if (frame.empty()) return;
    const auto fault = [&](Kind kind) {
      if (frame.size() > 256) frame.resize(256);
      texts.push_back(test::to_text(modbus::RtuFault{kind, frame, last + kTiming.between_frames_min}));
    };
    if (frame.size() > 256)
      fault(Kind::too_long);
    else if (torn)
      fault(Kind::gap_inside);
    else if (frame.size() < 4)
      fault(Kind::too_short);
    else if (modbus::crc16(frame) != 0)
      fault(Kind::bad_crc);
    else
      texts.push_back(
          test::to_text(modbus::RtuRequest{frame[0], {frame.begin() + 1, frame.end() - 2}, last}));
    frame.clear();
    torn = false;
  };
  for (const auto& piece : pieces) {
    if (piece.bytes.empty()) continue;
    if (piece.at - last >= kTiming.between_frames_min)
      end();
    else if (!frame.empty() && piece.at - last > kTiming.inside_frame_max)
      torn = true;
    frame.insert(frame.end(), piece.bytes.begin(), piece.bytes.end());
    last = piece.at;
  }
  end();
  return texts;
}

std::vector<std::string> texts_of(const Outcomes& outcomes) {
  std::vector<std::string> texts;
  for (const auto& outcome : outcomes) texts.push_back(test::to_text(outcome));
  return texts;
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::Input input(data, size);
  auto timing = kTiming;
  timing.strict = (input.byte() & 1U) != 0;
  const auto pieces = pieces_of(input);
  const auto outcomes = run(pieces, timing, false);
  check_bytes(pieces, outcomes);
  must(texts_of(outcomes) == texts_of(run(pieces, timing, true)), "bytes may come one by one");
  if (timing.strict) must(texts_of(outcomes) == strictly(pieces), "only silence ends a frame");
  return 0;
}

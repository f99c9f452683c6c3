#include "sim/modbus/rtu_framer.hpp"

#include <cassert>
#include <cstddef>
#include <utility>

#include "sim/modbus/crc.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {
namespace {

// Address, function code and CRC are the least.
constexpr std::size_t kFrameMin = 4;
constexpr std::size_t kAround = 3;  // address before the PDU, CRC behind it

/// A CRC over a frame and its own CRC is 0.
bool crc_is_good(ByteView frame) { return crc16(frame) == 0; }

RtuRequest request_in(const Bytes& frame, SimTime last_byte) {
  return {frame[0], Bytes(frame.begin() + 1, frame.end() - 2), last_byte};
}

}  // namespace

RtuFramer::RtuFramer(Timing timing) : timing_(timing) { pending_.reserve(kLongestRtuFrame); }

void RtuFramer::receive(ByteView bytes, SimTime at) {
  if (bytes.empty()) return;
  if (!pending_.empty()) {
    assert(at >= last_byte_);
    const auto silence = at - last_byte_ - timing_.character * static_cast<std::int64_t>(bytes.size());
    if (silence >= timing_.between_frames_min)
      end_by_silence();
    else if (timing_.strict && silence > timing_.inside_frame_max)
      gap_seen_ = true;
  }
  for (const auto byte : bytes) take(byte, at);
}

void RtuFramer::take(std::uint8_t byte, SimTime at) {
  last_byte_ = at;
  if (pending_.size() == kLongestRtuFrame) {
    too_long_ = true;
    return;
  }
  pending_.push_back(byte);
  if (timing_.strict) return;
  const auto answer_length =
      may_be_foreign_answer() ? implied_answer_length(ByteView(pending_).subspan(1)) : std::nullopt;
  if (answer_length && pending_.size() == *answer_length + kAround && crc_is_good(pending_)) {
    foreign_answer_at(at);
    return;
  }
  const auto pdu_length = implied_request_length(ByteView(pending_).subspan(1));
  // Looked at once, when the length is just reached: a frame that is wrong then stays pending until silence.
  if (!pdu_length || pending_.size() != *pdu_length + kAround || !crc_is_good(pending_)) return;
  request_at(at);
}

/// True if another slave has been asked and what is pending begins as its answer would.
bool RtuFramer::may_be_foreign_answer() const {
  return asked_ && pending_.size() > kFrameMin && pending_[0] == asked_->address &&
         (pending_[1] & 0x7Fu) == asked_->function;
}

void RtuFramer::foreign_answer_at(SimTime at) {
  ready_.emplace_back(RtuForeignAnswer{pending_, at});
  pending_.clear();
  asked_.reset();
}

void RtuFramer::request_at(SimTime at) {
  // Nobody answers a broadcast.
  const auto address = pending_[0];
  const bool of_others = own_ && address != 0 && !own_->test(address);
  asked_ = of_others ? std::optional(Asked{address, pending_[1]}) : std::nullopt;
  ready_.emplace_back(request_in(pending_, at));
  pending_.clear();
}

/// Of a good frame that silence has ended: true if it is no shorter and no longer than an answer would be.
bool RtuFramer::has_length_of_answer() const {
  const auto length = implied_answer_length(ByteView(pending_).subspan(1));
  return !length || pending_.size() == *length + kAround;
}

void RtuFramer::end_by_silence() {
  const auto at = last_byte_ + timing_.between_frames_min;
  const auto fault = [this, at](RtuFault::Kind kind) { ready_.emplace_back(RtuFault{kind, pending_, at}); };
  if (too_long_)
    fault(RtuFault::Kind::too_long);
  else if (gap_seen_)
    fault(RtuFault::Kind::gap_inside);
  else if (pending_.size() < kFrameMin)
    fault(RtuFault::Kind::too_short);
  else if (!crc_is_good(pending_))
    fault(RtuFault::Kind::bad_crc);
  else if (may_be_foreign_answer() && has_length_of_answer())
    foreign_answer_at(last_byte_);
  else
    request_at(last_byte_);
  forget_pending();
}

std::optional<SimTime> RtuFramer::wake_at() const {
  if (!ready_.empty()) return last_byte_;
  if (pending_.empty()) return std::nullopt;
  return last_byte_ + timing_.between_frames_min;
}

std::optional<RtuFramer::Outcome> RtuFramer::poll(SimTime now) {
  if (!pending_.empty() && now - last_byte_ >= timing_.between_frames_min) end_by_silence();
  if (ready_.empty()) return std::nullopt;
  auto outcome = std::move(ready_.front());
  ready_.pop_front();
  return outcome;
}

void RtuFramer::reset() {
  forget_pending();
  asked_.reset();
}

void RtuFramer::forget_pending() {
  pending_.clear();
  too_long_ = false;
  gap_seen_ = false;
}

}  // namespace emberline::modbus

#include "sim/modbus/mbap_framer.hpp"

#include <algorithm>
#include <cassert>
#include <utility>

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {
namespace {

// The unit id and a function code at least; the unit id and 253 bytes of PDU at most.
constexpr std::size_t kLengthMin = 2;
constexpr std::size_t kLengthMax = 1 + kPduMax;
constexpr std::size_t kToLength = 6;  // transaction, protocol id, length

std::uint16_t word(std::uint8_t high, std::uint8_t low) {
  return static_cast<std::uint16_t>((static_cast<unsigned>(high) << 8u) | low);
}

/// True if everything that can tell the length of this PDU tells another one than it has.
bool length_is_contradicted(ByteView pdu) {
  const auto implied = implied_request_length(pdu);
  switch (static_cast<Function>(pdu[0])) {
    case Function::read_coils:
    case Function::read_discrete_inputs:
    case Function::read_holding_registers:
    case Function::read_input_registers:
    case Function::write_single_coil:
    case Function::write_single_register:
    case Function::mask_write_register:
      return pdu.size() != implied;
    case Function::write_multiple_coils:
    case Function::write_multiple_registers: {
      if (!implied) return true;  // too short for its own byte count
      const std::size_t quantity = word(pdu[3], pdu[4]);
      const bool registers = static_cast<Function>(pdu[0]) == Function::write_multiple_registers;
      const auto by_quantity = 6 + (registers ? 2 * quantity : (quantity + 7) / 8);
      return pdu.size() != implied && pdu.size() != by_quantity;
    }
    case Function::read_write_multiple_registers: {
      if (!implied) return true;
      const std::size_t by_quantity = 10 + std::size_t{2} * word(pdu[7], pdu[8]);
      return pdu.size() != implied && pdu.size() != by_quantity;
    }
    default:
      return false;  // changes nothing, and most are refused with exception 01, whatever their shape
  }
}

}  // namespace

void MbapFramer::receive(ByteView bytes) {
  if (lost_) return;
  while (!lost_ && !bytes.empty()) bytes = bytes.subspan(take(bytes));
  if (!lost_) return;
  auto& shown = std::get<MbapFault>(ready_.back()).bytes;
  const auto behind = bytes.first(std::min(bytes.size(), kMbapHeader + kPduMax - shown.size()));
  shown.insert(shown.end(), behind.begin(), behind.end());
}

std::size_t MbapFramer::take(ByteView bytes) {
  if (prefix_size_ < kPrefix) {
    const auto part = bytes.first(std::min(bytes.size(), kPrefix - prefix_size_));
    std::copy(part.begin(), part.end(), prefix_.begin() + static_cast<std::ptrdiff_t>(prefix_size_));
    prefix_size_ += part.size();
    if (prefix_size_ == kPrefix) judge_header();
    return part.size();
  }
  const auto part = bytes.first(std::min(bytes.size(), length_ - body_.size()));
  body_.insert(body_.end(), part.begin(), part.end());
  if (body_.size() == length_) judge_adu();
  return part.size();
}

void MbapFramer::judge_header() {
  const auto size = *mbap_adu_size(prefix_);
  body_.clear();
  if (size == 0) {
    lose();
    return;
  }
  length_ = size - kPrefix;
  passed_over_ = word(prefix_[2], prefix_[3]) != 0;
}

void MbapFramer::judge_adu() {
  prefix_size_ = 0;
  if (passed_over_) {
    ready_.emplace_back(MbapFault{MbapFault::Kind::wrong_protocol, as_it_came()});
    return;
  }
  if (length_is_contradicted(ByteView(body_).subspan(1))) {
    lose();
    return;
  }
  ready_.emplace_back(
      MbapRequest{word(prefix_[0], prefix_[1]), body_[0], Bytes(body_.begin() + 1, body_.end())});
}

void MbapFramer::lose() {
  lost_ = true;
  ready_.emplace_back(MbapFault{MbapFault::Kind::bad_length, as_it_came()});
}

Bytes MbapFramer::as_it_came() const {
  Bytes bytes(prefix_.begin(), prefix_.end());
  bytes.insert(bytes.end(), body_.begin(), body_.end());
  return bytes;
}

std::optional<MbapFramer::Outcome> MbapFramer::poll() {
  if (ready_.empty()) return std::nullopt;
  auto outcome = std::move(ready_.front());
  ready_.pop_front();
  return outcome;
}

bool MbapFramer::lost() const { return lost_; }

std::optional<std::size_t> mbap_adu_size(ByteView stream) {
  if (stream.size() < kToLength) return std::nullopt;
  const std::size_t length = word(stream[4], stream[5]);
  return length < kLengthMin || length > kLengthMax ? 0 : kToLength + length;
}

void put_mbap_frame(std::uint16_t transaction, std::uint8_t unit, ByteView pdu, Bytes& frame) {
  assert(!pdu.empty() && pdu.size() <= kPduMax);
  const auto length = static_cast<unsigned>(pdu.size() + 1);
  const std::array<std::uint8_t, kMbapHeader> header{
      static_cast<std::uint8_t>(transaction >> 8u), static_cast<std::uint8_t>(transaction & 0xFFu), 0,   0,
      static_cast<std::uint8_t>(length >> 8u),      static_cast<std::uint8_t>(length & 0xFFu),      unit};
  frame.resize(kMbapHeader + pdu.size());
  std::copy(pdu.begin(), pdu.end(), std::copy(header.begin(), header.end(), frame.begin()));
}

Bytes mbap_frame(std::uint16_t transaction, std::uint8_t unit, ByteView pdu) {
  Bytes frame;
  put_mbap_frame(transaction, unit, pdu, frame);
  return frame;
}

}  // namespace emberline::modbus

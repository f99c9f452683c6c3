#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>

#include "sim/modbus/bytes.hpp"
#include "sim/modbus/pdu.hpp"

/// What libFuzzer calls, over and over, with inputs it makes up.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace emberline::fuzz {

/// Ends the run, whereupon libFuzzer keeps the input, if `holds` is false.
inline void must(bool holds, const char* what) {
  if (holds) return;
  (void)std::fprintf(stderr, "BROKEN: %s\n", what);
  std::abort();
}

/// Takes an input apart, front to back; an input at its end gives zeros.
class Input {
 public:
  Input(const std::uint8_t* data, std::size_t size) : rest_(data, size) {}
  [[nodiscard]] bool empty() const { return rest_.empty(); }
  std::uint8_t byte() {
    const auto taken = bytes(1);
    return taken.empty() ? std::uint8_t{0} : taken[0];
  }
  /// `count` bytes, or as many as are left.
  modbus::ByteView bytes(std::size_t count) {
    const auto taken = rest_.first(count < rest_.size() ? count : rest_.size());
    rest_ = rest_.subspan(taken.size());
    return taken;
  }
  modbus::ByteView rest() { return bytes(rest_.size()); }

 private:
  modbus::ByteView rest_;
};

/// An answer is an exception of two bytes with a code of ours, or of the function asked for, no longer than
/// a PDU, and as long as it says itself.
inline void must_be_sound(modbus::ByteView pdu, modbus::ByteView answer) {
  must(!answer.empty() && answer.size() <= modbus::kPduMax, "an answer is 1 to 253 bytes long");
  const unsigned asked = pdu.empty() ? 0U : pdu[0];
  if ((answer[0] & 0x80U) != 0) {
    must(answer.size() == 2, "an exception is two bytes long");
    must(answer[0] == (asked | 0x80U), "an exception is of the function asked for");
    const unsigned code = answer[1];
    must((code >= 1 && code <= 4) || code == 6 || code == 0x0B, "an exception has a code of the standard");
    return;
  }
  must(answer[0] == asked, "an answer is of the function asked for");
  const auto told = modbus::implied_answer_length(answer);
  must(!told || *told == answer.size(), "an answer is as long as it says itself");
}

}  // namespace emberline::fuzz

#include "sim/rehearsal/refusal_words.hpp"

#include <array>
#include <cstddef>

namespace emberline::rehearsal {

namespace {

/// What the standard calls it; null if it has no name there.
const char* name_of(modbus::Refusal refusal) {
  static constexpr std::array<const char*, 12> kWords{
      nullptr,
      "illegal function",
      "illegal data address",
      "illegal data value",
      "server device failure",
      "acknowledge",
      "server device busy",
      nullptr,
      "memory parity error",
      nullptr,
      "gateway path unavailable",
      "gateway target device failed to respond",
  };
  const auto code = static_cast<std::size_t>(refusal);
  return code < kWords.size() ? kWords[code] : nullptr;
}

std::string number_of(modbus::Refusal refusal) {
  static constexpr const char* kDigits = "0123456789ABCDEF";
  const auto code = static_cast<std::size_t>(refusal);
  return {kDigits[code >> 4u & 0xFu], kDigits[code & 0xFu]};
}

}  // namespace

std::string refusal_words(modbus::Refusal refusal) {
  const char* name = name_of(refusal);
  return std::string(name != nullptr ? name : "exception") + " (" + number_of(refusal) + ")";
}

std::string exception_words(modbus::Refusal refusal) {
  const char* name = name_of(refusal);
  return "exception " + number_of(refusal) + (name != nullptr ? " (" + std::string(name) + ")" : "");
}

}  // namespace emberline::rehearsal

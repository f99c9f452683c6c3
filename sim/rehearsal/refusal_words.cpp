#include "sim/rehearsal/refusal_words.hpp"

#include <array>
#include <cstddef>

namespace emberline::rehearsal {

std::string refusal_words(modbus::Refusal refusal) {
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
  static constexpr const char* kDigits = "0123456789ABCDEF";
  const auto code = static_cast<std::size_t>(refusal);
  const std::string number{kDigits[code >> 4u & 0xFu], kDigits[code & 0xFu]};
  const char* words = code < kWords.size() ? kWords[code] : nullptr;
  return std::string(words != nullptr ? words : "exception") + " (" + number + ")";
}

}  // namespace emberline::rehearsal

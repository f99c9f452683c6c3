#include "sim/io/panel/session_id.hpp"

#include <cstdint>
#include <random>

namespace emberline::io {

std::string new_session_id() {
  constexpr char kDigits[] = "0123456789abcdef";
  std::random_device system;
  std::string id;
  for (int word = 0; word < 4; ++word) {
    auto bits = static_cast<std::uint32_t>(system());
    for (int digit = 0; digit < 8; ++digit, bits >>= 4) id += kDigits[bits & 0xF];
  }
  return id;
}

}  // namespace emberline::io

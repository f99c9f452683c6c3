#pragma once

#include <algorithm>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "sim/io/panel/frame_words.hpp"
#include "sim/io/panel/point_words.hpp"

namespace emberline::io {

/// Walks through the bytes of a PDU and adds a field for each piece. What should be there and is not is said
/// once; what is left over too.
class PduCursor {
 public:
  PduCursor(modbus::ByteView bytes, FrameWords& words) : left_(bytes), words_(words) {}

  /// Takes so many bytes as one field; fewer when there are no more.
  modbus::ByteView take(std::size_t count, std::string name, std::string means = {}) {
    if (count > left_.size() && !words_.trouble) words_.trouble = "broken: ends in the middle";
    const auto taken = left_.first(std::min(count, left_.size()));
    left_ = left_.subspan(taken.size());
    if (!taken.empty()) words_.fields.push_back({hex_text(taken), std::move(name), std::move(means)});
    return taken;
  }
  /// What the field that was taken last means, when its bytes had to be looked at first.
  void means(std::string what) {
    if (!words_.fields.empty()) words_.fields.back().means = std::move(what);
  }
  std::uint8_t byte(std::string name) {
    const auto taken = take(1, std::move(name));
    const std::uint8_t value = taken.empty() ? std::uint8_t{0} : taken[0];
    if (!taken.empty()) means(std::to_string(value));
    return value;
  }
  std::uint16_t word(std::string name) {
    const auto taken = take(2, std::move(name));
    if (taken.size() < 2) return 0;
    const auto value = static_cast<std::uint16_t>(taken[0] << 8U | taken[1]);
    means(std::to_string(value));
    return value;
  }
  /// The bytes that are left, without taking them.
  [[nodiscard]] modbus::ByteView left() const { return left_; }
  /// What is left over.
  void rest(std::string name, std::string means = {}) {
    if (!left_.empty()) (void)take(left_.size(), std::move(name), std::move(means));
  }
  [[nodiscard]] bool whole() const { return !words_.trouble.has_value(); }

 private:
  modbus::ByteView left_;
  FrameWords& words_;
};

/// The next so many bytes as registers; only whole ones.
[[nodiscard]] inline std::vector<std::uint16_t> registers_in(modbus::ByteView bytes) {
  std::vector<std::uint16_t> words;
  for (std::size_t i = 0; i + 1 < bytes.size(); i += 2)
    words.push_back(static_cast<std::uint16_t>(bytes[i] << 8U | bytes[i + 1]));
  return words;
}
/// Bits as they stand in bytes, the lowest first (Application Protocol V1.1b3, 6.1).
[[nodiscard]] inline std::vector<std::uint16_t> bits_in(modbus::ByteView bytes, std::size_t count) {
  std::vector<std::uint16_t> bits;
  for (std::size_t i = 0; i < count && i / 8 < bytes.size(); ++i)
    bits.push_back(static_cast<std::uint16_t>(bytes[i / 8] >> (i % 8) & 1));
  return bits;
}

}  // namespace emberline::io

#pragma once

#include <cstdint>
#include <fstream>
#include <iterator>
#include <map>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/modbus/bytes.hpp"

// Takes a capture apart again, after IETF draft-ietf-opsawg-pcapng and not after the writer.

namespace emberline::test {

inline modbus::Bytes content_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

inline std::uint32_t little(const modbus::Bytes& bytes, std::size_t index, std::size_t size) {
  std::uint32_t value = 0;
  for (std::size_t i = size; i-- > 0;) value = value << 8U | bytes.at(index + i);
  return value;
}

inline std::uint32_t big(const modbus::Bytes& bytes, std::size_t index, std::size_t size) {
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < size; ++i) value = value << 8U | bytes.at(index + i);
  return value;
}

struct Block {
  std::uint32_t type = 0;
  modbus::Bytes body;
  /// Options by code; a code that stands twice fails.
  [[nodiscard]] std::map<std::uint32_t, modbus::Bytes> options(std::size_t index) const {
    std::map<std::uint32_t, modbus::Bytes> found;
    while (index < body.size()) {
      const auto code = little(body, index, 2);
      const auto length = little(body, index + 2, 2);
      if (code == 0) {
        CHECK(length == 0);
        CHECK(index + 4 == body.size());
        return found;
      }
      const auto begin = body.begin() + static_cast<std::ptrdiff_t>(index) + 4;
      CHECK(found.emplace(code, modbus::Bytes(begin, begin + length)).second);
      index += 4 + (length + 3) / 4 * 4;
    }
    FAIL("options without an end");
    return found;
  }
};

/// The blocks of a file; fails where a length is not that of the block, or differs at its two ends.
inline std::vector<Block> blocks_of(const modbus::Bytes& file) {
  std::vector<Block> blocks;
  std::size_t index = 0;
  while (index < file.size()) {
    const auto total = little(file, index + 4, 4);
    REQUIRE(total % 4 == 0);
    REQUIRE(total >= 12);
    REQUIRE(index + total <= file.size());
    CHECK(little(file, index + total - 4, 4) == total);
    const auto begin = file.begin() + static_cast<std::ptrdiff_t>(index) + 8;
    blocks.push_back({little(file, index, 4), modbus::Bytes(begin, begin + total - 12)});
    index += total;
  }
  return blocks;
}

struct SeenPacket {
  std::uint32_t interface = 0;
  std::uint64_t ns = 0;
  modbus::Bytes bytes;
  std::string comment;
  std::uint32_t flags = 0;
};

inline std::vector<SeenPacket> packets_of(const modbus::Bytes& file) {
  std::vector<SeenPacket> packets;
  for (const auto& block : blocks_of(file)) {
    if (block.type != 6) continue;  // enhanced packet
    const auto length = little(block.body, 12, 4);
    CHECK(little(block.body, 16, 4) == length);
    const auto options = block.options(20 + (length + 3) / 4 * 4);
    SeenPacket packet;
    packet.interface = little(block.body, 0, 4);
    packet.ns = std::uint64_t{little(block.body, 4, 4)} << 32U | little(block.body, 8, 4);
    packet.bytes = {block.body.begin() + 20, block.body.begin() + 20 + length};
    if (options.count(1) != 0) packet.comment = {options.at(1).begin(), options.at(1).end()};
    packet.flags = little(options.at(2), 0, 4);
    packets.push_back(packet);
  }
  return packets;
}

}  // namespace emberline::test

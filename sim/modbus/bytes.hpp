#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace emberline::modbus {

/// Bytes as they stand on the wire, first byte first.
using Bytes = std::vector<std::uint8_t>;
using ByteView = std::span<const std::uint8_t>;

}  // namespace emberline::modbus

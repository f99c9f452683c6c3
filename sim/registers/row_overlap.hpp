#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "sim/registers/register_table.hpp"

namespace emberline::registers {

/// Which rows stand in which registers. Rows are given one by one; each takes time by how many registers it
/// has, not by how many rows there are.
class TakenRegisters {
 public:
  /// A row that stands in the way of another.
  struct Conflict {
    std::size_t row = 0;           ///< the first of those that were added
    bool byte_order_only = false;  ///< the bits are apart, but would be placed differently
  };
  /// The first row that cannot stand in a table together with `row`.
  [[nodiscard]] std::optional<Conflict> conflict_of(const Row& row) const;
  /// Row number `index` stands there. Where others do so already, they stay.
  void add(const Row& row, std::size_t index);

 private:
  struct Register {
    std::optional<std::size_t> whole;
    std::array<std::optional<std::size_t>, 16> bits;
    std::array<std::optional<std::size_t>, 2> sharing;  ///< by byte order: the first row of bits
  };
  std::unordered_map<std::uint32_t, Register> registers_;
};

/// "overlaps setpoint at 0x0030 (40049)" or what else keeps a row from standing beside `other`; `where` is
/// put behind that: ", line 7".
[[nodiscard]] std::string told(const TakenRegisters::Conflict& conflict, const Row& other,
                               const std::string& where);

}  // namespace emberline::registers

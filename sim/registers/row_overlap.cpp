#include "sim/registers/row_overlap.hpp"

#include <algorithm>

#include "sim/registers/row_check.hpp"

namespace emberline::registers {
namespace {

std::uint32_t key_of(const Row& row, int offset) {
  return (static_cast<std::uint32_t>(row.table) << 24U) + row.address + static_cast<std::uint32_t>(offset);
}

std::size_t order_of(const Row& row) { return row.layout.byte_order == ByteOrder::high_first ? 0 : 1; }

bool has_bit(const Row& row, std::size_t bit) { return (own_bits(row) >> bit & 1U) != 0; }

}  // namespace

std::optional<TakenRegisters::Conflict> TakenRegisters::conflict_of(const Row& row) const {
  std::optional<Conflict> first;
  const auto consider = [&first](const std::optional<std::size_t>& index, bool byte_order_only) {
    if (index && (!first || *index < first->row)) first = Conflict{*index, byte_order_only};
  };
  const bool shares = shares_register(row);
  for (int offset = 0; offset < register_count(row.layout); ++offset) {
    const auto found = registers_.find(key_of(row, offset));
    if (found == registers_.end()) continue;
    const auto& there = found->second;
    consider(there.whole, false);
    for (std::size_t bit = 0; bit < there.bits.size(); ++bit)
      if (!shares || has_bit(row, bit)) consider(there.bits.at(bit), false);
    if (shares) consider(there.sharing.at(1 - order_of(row)), true);
  }
  return first;
}

void TakenRegisters::add(const Row& row, std::size_t index) {
  const auto take = [index](std::optional<std::size_t>& place) {
    if (!place) place = index;
  };
  for (int offset = 0; offset < register_count(row.layout); ++offset) {
    auto& there = registers_[key_of(row, offset)];
    if (!shares_register(row)) {
      take(there.whole);
      continue;
    }
    for (std::size_t bit = 0; bit < there.bits.size(); ++bit)
      if (has_bit(row, bit)) take(there.bits.at(bit));
    take(there.sharing.at(order_of(row)));
  }
}

std::string told(const TakenRegisters::Conflict& conflict, const Row& other, const std::string& where) {
  return (conflict.byte_order_only ? "has another byte order than " : "overlaps ") + described(other) +
         where + (conflict.byte_order_only ? ", with which it shares the register" : "");
}

}  // namespace emberline::registers

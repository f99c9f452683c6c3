#include "sim/rehearsal/block_plan.hpp"

#include <algorithm>
#include <numeric>
#include <tuple>

namespace emberline::rehearsal {

namespace {

constexpr int kBitsPerRegister = 16;

int first_of(const Target& target) { return target.row.address; }

int end_of(const Target& target) {
  return first_of(target) +
         (modbus::carries_bits(target.row.table) ? 1 : registers::register_count(target.row.layout));
}

int limit_of(const Target& target) {
  const int most = modbus::carries_bits(target.row.table) ? modbus::kReadBitsMax : modbus::kReadRegistersMax;
  if (target.largest_block <= 0) return most;
  const int of_slave = modbus::carries_bits(target.row.table)
                           ? std::min(target.largest_block, modbus::kReadRegistersMax) * kBitsPerRegister
                           : target.largest_block;
  return std::min(most, of_slave);
}

auto memory_of(const Target& target) { return std::tuple(target.io_block, target.slave, target.row.table); }

/// A block that still grows.
struct Growing {
  std::size_t lead;
  int first;
  int end;
};

bool takes_in(const Growing& block, const Target& leader, const Target& next) {
  const bool touches = first_of(next) <= block.end;
  const bool fits = std::max(block.end, end_of(next)) - block.first <= limit_of(leader);
  return memory_of(leader) == memory_of(next) && touches && fits;
}

}  // namespace

std::vector<BlockRead> plan_blocks(const std::vector<Target>& targets) {
  std::vector<std::size_t> order(targets.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return std::tuple(memory_of(targets[a]), first_of(targets[a])) <
           std::tuple(memory_of(targets[b]), first_of(targets[b]));
  });

  std::vector<Growing> blocks;
  for (const std::size_t index : order) {
    const Target& target = targets[index];
    if (!blocks.empty() && takes_in(blocks.back(), targets[blocks.back().lead], target)) {
      blocks.back().lead = std::min(blocks.back().lead, index);
      blocks.back().end = std::max(blocks.back().end, end_of(target));
    } else {
      blocks.push_back({index, first_of(target), end_of(target)});
    }
  }
  std::sort(blocks.begin(), blocks.end(), [](const Growing& a, const Growing& b) { return a.lead < b.lead; });

  std::vector<BlockRead> plan;
  plan.reserve(blocks.size());
  for (const Growing& block : blocks) {
    plan.push_back(
        {block.lead,
         {static_cast<std::uint16_t>(block.first), static_cast<std::uint16_t>(block.end - block.first)}});
  }
  return plan;
}

}  // namespace emberline::rehearsal

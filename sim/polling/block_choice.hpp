#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::polling {

/// One wanted value in the memory of one slave (one of its four tables).
struct Item {
  int first = 0;     ///< zero-based address
  int count = 1;     ///< registers or bits
  Duration every{};  ///< more than 0
};

/// What one table of one slave lets a master do.
struct Memory {
  std::vector<Item> items;  ///< in any order; several may have the same addresses (bits of one register)
  int longest = 125;        ///< registers or bits one read may ask for
  /// True if [first, first + count) can be read at once: no unmapped address where that is refused, no half
  /// of a value that may not be split.
  std::function<bool(int first, int count)> readable;
  /// Line time of one read of so many registers or bits; does not fall as the count grows.
  std::function<Duration(int count)> line_time;
};

/// One block read, again and again.
struct Block {
  int first = 0;
  int count = 1;
  Duration every{};                ///< the shortest period among what it brings
  std::vector<std::size_t> items;  ///< places in Memory::items; every item is in one block
  bool operator==(const Block&) const = default;
};

/// The block reads of all tables of one slave (places as in `memories`) that take the least line time a
/// second: sum of line_time(count) / every. A value may ride in a block that is asked more often than it
/// needs; gaps are bridged where that is cheaper; among equal ones the fewest requests a second. With
/// `reads_per_second` the least line time among the choices whose requests a second stay within it. Nothing
/// if there is none: a value alone is too long or not readable, or the limit cannot be kept.
///
/// Exact. Two blocks of an optimum do not cross: trimming the slower one to begin behind the quicker costs
/// nothing and loses nothing. So blocks are nested or apart, and with D(i, j, k) the least cost of covering
/// those of items i..j that are quicker than period k, and B a block from the first of them, i, to m with
/// period q:
///   D(i, j, k) = min over m, q of  line_time(B) / q + D(i, m, q) + D(m + 1, j, k).
/// Costs are whole numbers: line times in ns, times how often they come in the least common multiple of the
/// periods (rounded to 1 in 2^24 where the quickest comes more often in it than that). With a limit D is the
/// set of all (cost, requests a second) that no other beats in both. An item within another is read with it.
[[nodiscard]] std::optional<std::vector<std::vector<Block>>> choose_blocks(
    const std::vector<Memory>& memories, std::optional<double> reads_per_second);

/// Line time a second of these blocks, 1 = all of it.
[[nodiscard]] double cost_of(const Memory& memory, const std::vector<Block>& blocks);

}  // namespace emberline::polling

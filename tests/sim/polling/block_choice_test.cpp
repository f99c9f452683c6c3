#include "sim/polling/block_choice.hpp"

#include <algorithm>
#include <chrono>
#include <limits>
#include <numeric>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "sim/polling/line_time.hpp"

using namespace emberline;
using namespace emberline::polling;
using namespace std::chrono_literals;

namespace {

/// A small case, kept so that it can be asked in two ways.
struct Case {
  std::vector<bool> mapped;  ///< by address
  bool gaps_zero = false;
  std::vector<std::pair<int, int>> whole;  ///< values no read may cut: first, end
  Memory memory;
  std::optional<double> limit;
};

bool readable(const Case& one, int first, int count) {
  int found = 0;
  for (int address = first; address < first + count; ++address) {
    if (address < static_cast<int>(one.mapped.size()) && one.mapped[static_cast<std::size_t>(address)])
      ++found;
  }
  for (const auto& [begin, end] : one.whole) {
    const bool touched = begin < first + count && first < end;
    if (touched && (begin < first || end > first + count)) return false;
  }
  return found == count || (one.gaps_zero && found > 0);
}

Case random_case(Random& random) {
  Case one;
  one.gaps_zero = random.below(2) == 0;
  const bool bits = random.below(4) == 0;
  const Duration slow[] = {2s, 1300ms, 13s, 26s};
  const Duration periods[] = {500ms, 1s, slow[random.below(4)]};
  const std::size_t wanted = 2 + random.below(6);
  int address = static_cast<int>(random.below(4));
  while (one.memory.items.size() < wanted) {
    const int count = bits ? 1 : 1 + static_cast<int>(random.below(2));
    const int gap = random.below(5) < 3 ? 0 : static_cast<int>(random.below(bits ? 12 : 7));
    for (int i = 0; i < gap; ++i) one.mapped.push_back(random.below(4) != 0);
    address = static_cast<int>(one.mapped.size());
    one.mapped.resize(one.mapped.size() + static_cast<std::size_t>(count), true);
    if (count > 1 && random.below(2) == 0) one.whole.emplace_back(address, address + count);
    // Now and then several of the same addresses (bits of one register), or a value nobody wants.
    const std::size_t here = random.below(5);
    for (std::size_t i = 0; i < (here == 0 ? 2u : here == 1 ? 0u : 1u); ++i) {
      if (one.memory.items.size() < wanted)
        one.memory.items.push_back({address, count, periods[random.below(3)]});
    }
  }
  for (std::size_t i = one.memory.items.size(); i > 1; --i)  // in any order
    std::swap(one.memory.items[i - 1], one.memory.items[random.below(i)]);
  one.memory.longest = bits ? 8 + static_cast<int>(random.below(40)) : 2 + static_cast<int>(random.below(16));
  // Times as on a line at 19200 bit/s, in us; bits come in bytes. Sometimes with hardly any overhead, or
  // all the same, as on TCP.
  const std::int64_t overhead = random.below(3) == 0 ? 900 : 12'500;
  const std::int64_t character = random.below(6) == 0 ? 0 : 573;
  one.memory.line_time = [bits, overhead, character](int count) {
    const std::int64_t characters = bits ? (count + 7) / 8 : 2 * count;
    return Duration{std::chrono::microseconds{overhead + character * characters}};
  };
  return one;
}

double rate_of(const std::vector<Block>& blocks) {
  double rate = 0.0;
  for (const Block& block : blocks) rate += 1.0 / to_seconds(block.every);
  return rate;
}

/// The least cost of all ways to put the items into blocks, in ns in 26 s, a multiple of every period;
/// nothing if there is none.
constexpr Duration kCycle = 26s;
class Brute {
 public:
  explicit Brute(const Case& one) : one_(one) {}
  std::optional<std::int64_t> least() {
    place(0);
    return best_;
  }
  std::int64_t partitions = 0;

 private:
  void place(std::size_t item) {
    if (item == one_.memory.items.size()) return weigh();
    for (std::size_t part = 0; part < parts_.size(); ++part) {
      parts_[part].push_back(item);
      place(item + 1);
      parts_[part].pop_back();
    }
    parts_.push_back({item});
    place(item + 1);
    parts_.pop_back();
  }
  void weigh() {
    ++partitions;
    std::int64_t cost = 0;
    std::int64_t requests = 0;
    for (const auto& part : parts_) {
      int first = std::numeric_limits<int>::max();
      int end = 0;
      Duration every = Duration::max();
      for (const std::size_t i : part) {
        const Item& item = one_.memory.items[i];
        first = std::min(first, item.first);
        end = std::max(end, item.first + item.count);
        every = std::min(every, item.every);
      }
      if (end - first > one_.memory.longest || !readable(one_, first, end - first)) return;
      cost += one_.memory.line_time(end - first).count() * (kCycle / every);
      requests += kCycle / every;
    }
    if (one_.limit && static_cast<double>(requests) > *one_.limit * to_seconds(kCycle) + 1e-6) return;
    if (!best_ || cost < *best_) best_ = cost;
  }
  const Case& one_;
  std::vector<std::vector<std::size_t>> parts_;
  std::optional<std::int64_t> best_;
};

std::int64_t cost_in_cycle(const Case& one, const std::vector<Block>& blocks) {
  std::int64_t cost = 0;
  for (const Block& block : blocks)
    cost += one.memory.line_time(block.count).count() * (kCycle / block.every);
  return cost;
}

/// Everything is brought, often enough, by blocks that the slave answers and that are no longer than needed.
void check_blocks(const Case& one, const std::vector<Block>& blocks) {
  std::vector<int> brought(one.memory.items.size(), 0);
  std::int64_t requests = 0;
  for (const Block& block : blocks) {
    CHECK(block.count <= one.memory.longest);
    CHECK(readable(one, block.first, block.count));
    requests += kCycle / block.every;
    Duration every = Duration::max();
    int first = std::numeric_limits<int>::max();
    int end = 0;
    for (const std::size_t i : block.items) {
      const Item& item = one.memory.items.at(i);
      ++brought[i];
      every = std::min(every, item.every);
      first = std::min(first, item.first);
      end = std::max(end, item.first + item.count);
    }
    CHECK(every == block.every);
    CHECK(first == block.first);
    CHECK(end == block.first + block.count);
  }
  CHECK(std::all_of(brought.begin(), brought.end(), [](int times) { return times == 1; }));
  if (one.limit) CHECK(static_cast<double>(requests) <= *one.limit * to_seconds(kCycle) + 1e-6);
}

}  // namespace

TEST_CASE(
    "no way to put values into blocks is cheaper than the one chosen: 1,000 random cases, all partitions") {
  Random random(20'260'101);
  int solved = 0;
  int impossible = 0;
  int tightened = 0;
  int nested = 0;
  std::int64_t partitions = 0;
  for (int number = 0; number < 1000; ++number) {
    CAPTURE(number);
    Case one = random_case(random);
    one.memory.readable = [&one](int first, int count) { return readable(one, first, count); };
    const auto free = choose_blocks({one.memory}, std::nullopt);
    // A limit where it matters: about what the cheapest choice needs, or less.
    if (free && random.below(2) == 0) one.limit = rate_of(free->at(0)) * (0.55 + 0.5 * random.unit());
    Brute brute(one);
    const auto least = brute.least();
    partitions += brute.partitions;
    const auto chosen = choose_blocks({one.memory}, one.limit);
    REQUIRE(chosen.has_value() == least.has_value());
    if (!chosen) {
      ++impossible;
      continue;
    }
    ++solved;
    const std::vector<Block>& blocks = chosen->at(0);
    CHECK(cost_in_cycle(one, blocks) == *least);
    CHECK(cost_of(one.memory, blocks) ==
          doctest::Approx(static_cast<double>(*least) / 1e9 / to_seconds(kCycle)));
    check_blocks(one, blocks);
    if (one.limit && cost_in_cycle(one, free->at(0)) < *least) ++tightened;
    for (const Block& a : blocks) {
      for (const Block& b : blocks) {
        const bool within = a.first <= b.first && b.first + b.count <= a.first + a.count;
        if (within && a.count > b.count) ++nested;
      }
    }
  }
  // The cases are of all kinds, or this proves little.
  CHECK(solved > 500);
  CHECK(impossible > 30);
  CHECK(tightened > 20);
  CHECK(nested > 3);
  CHECK(partitions > 50'000);
}

TEST_CASE("tables of one slave share its reads a second: 200 random pairs, all partitions of both") {
  Random random(7);
  int tightened = 0;
  for (int number = 0; number < 200; ++number) {
    CAPTURE(number);
    std::vector<Case> cases{random_case(random), random_case(random)};
    for (Case& one : cases) {
      if (one.memory.items.size() > 5) one.memory.items.resize(5);
      one.memory.readable = [&one](int first, int count) { return readable(one, first, count); };
    }
    const double limit = 2.0 + static_cast<double>(random.below(5));
    // All that one table may use leaves the rest to the other.
    std::optional<std::int64_t> least;
    for (std::int64_t part = 0; part <= static_cast<std::int64_t>(limit * 26.0); ++part) {
      cases[0].limit = static_cast<double>(part) / 26.0;
      cases[1].limit = limit - *cases[0].limit;
      const auto one = Brute(cases[0]).least();
      const auto other = Brute(cases[1]).least();
      if (one && other && (!least || *one + *other < *least)) least = *one + *other;
    }
    const auto chosen = choose_blocks({cases[0].memory, cases[1].memory}, limit);
    REQUIRE(chosen.has_value() == least.has_value());
    if (!chosen) continue;
    CHECK(cost_in_cycle(cases[0], chosen->at(0)) + cost_in_cycle(cases[1], chosen->at(1)) == *least);
    const auto free = choose_blocks({cases[0].memory, cases[1].memory}, std::nullopt);
    if (cost_in_cycle(cases[0], free->at(0)) + cost_in_cycle(cases[1], free->at(1)) < *least) ++tightened;
  }
  CHECK(tightened > 10);
}

TEST_CASE("a gap is bridged only where that takes less line time") {
  // MODBUS over Serial Line V1.02, 2.5.1: 11 bits a character. At 19200 bit/s a read of its own costs
  // 8 + 3.5 + 5 + 3.5 = 20 characters, a bridged register 2: up to 9 registers are bridged, 10 are a tie.
  Memory memory;
  memory.longest = 125;
  memory.readable = [](int, int) { return true; };
  const bench::LineSpec line;
  memory.line_time = [&line](int count) {
    return read_exchange(line, {}, {}, modbus::Table::holding_registers, count).whole;
  };
  for (const int gap : {0, 1, 9, 10, 11, 40}) {
    CAPTURE(gap);
    memory.items = {{0, 1, 1s}, {1 + gap, 1, 1s}};
    const auto chosen = choose_blocks({memory}, std::nullopt);
    REQUIRE(chosen);
    // At the tie the fewer requests win.
    CHECK(chosen->at(0).size() == (gap <= 10 ? 1u : 2u));
  }
  // Half as often asked, the second saves half of it by itself: 20 + 2 = 22 against 22 + 11 + ...
  memory.items = {{0, 1, 1s}, {5, 1, 4s}};
  CHECK(choose_blocks({memory}, std::nullopt)->at(0).size() == 2);
  memory.items = {{0, 1, 1s}, {1, 1, 4s}};
  CHECK(choose_blocks({memory}, std::nullopt)->at(0).size() == 1);
}

TEST_CASE("a slow block goes round a quick one where that is cheapest") {
  Memory memory;
  memory.longest = 125;
  memory.readable = [](int, int) { return true; };
  const bench::LineSpec line;
  memory.line_time = [&line](int count) {
    return read_exchange(line, {}, {}, modbus::Table::holding_registers, count).whole;
  };
  // Two characters more every 0.5 s cost more than 20 + 6 every 60 s, and one slow read less than two.
  memory.items = {{0, 1, 60s}, {1, 1, 500ms}, {2, 1, 60s}};
  const auto chosen = choose_blocks({memory}, std::nullopt);
  REQUIRE(chosen);
  CHECK(chosen->at(0) == std::vector<Block>{{0, 3, 60s, {0, 2}}, {1, 1, 500ms, {1}}});
}

TEST_CASE("a value alone that is too long, or cannot be read, has no blocks") {
  Memory memory;
  memory.longest = 2;
  memory.line_time = [](int count) { return Duration{std::chrono::milliseconds{count}}; };
  memory.readable = [](int first, int) { return first != 9; };
  memory.items = {{0, 3, 1s}};
  CHECK_FALSE(choose_blocks({memory}, std::nullopt));
  memory.items = {{9, 1, 1s}};
  CHECK_FALSE(choose_blocks({memory}, std::nullopt));
  memory.items = {{0, 2, 1s}};
  CHECK(choose_blocks({memory}, std::nullopt));
  CHECK_FALSE(choose_blocks({memory}, 0.99));
  CHECK(choose_blocks({memory}, 1.0));
  memory.items.clear();
  CHECK(choose_blocks({memory}, 0.0)->at(0).empty());
}

TEST_CASE("a value within another is read with it, as often as the quicker of them asks") {
  Memory memory;
  memory.longest = 10;
  memory.line_time = [](int count) { return Duration{std::chrono::milliseconds{10 + count}}; };
  memory.readable = [](int, int) { return true; };
  memory.items = {{2, 1, 100ms}, {0, 8, 1s}};
  const auto chosen = choose_blocks({memory}, std::nullopt);
  REQUIRE(chosen);
  CHECK(chosen->at(0) == std::vector<Block>{{0, 8, 100ms, {0, 1}}});
}

TEST_CASE("120 values of four periods are cut as well as seven, with a limit too") {
  Random random(3);
  Memory memory;
  memory.longest = 125;
  memory.readable = [](int, int) { return true; };
  const bench::LineSpec line;
  memory.line_time = [&line](int count) {
    return read_exchange(line, {}, {}, modbus::Table::holding_registers, count).whole;
  };
  const Duration periods[] = {200ms, 500ms, 1s, 5s};
  int address = 0;
  for (int i = 0; i < 120; ++i) {
    memory.items.push_back({address, 1 + static_cast<int>(random.below(2)), periods[random.below(4)]});
    address += 2 + static_cast<int>(random.below(20));
  }
  const auto free = choose_blocks({memory}, std::nullopt);
  REQUIRE(free);
  const double requests = rate_of(free->at(0));
  const auto limited = choose_blocks({memory}, requests * 0.8);
  REQUIRE(limited);
  CHECK(cost_of(memory, limited->at(0)) > cost_of(memory, free->at(0)));
  CHECK(rate_of(limited->at(0)) <= requests * 0.8 * (1 + 1e-9));
}

TEST_CASE("the cost of long line times in a long common cycle wraps around, and a dear choice looks cheap") {
  // A pause of a minute: one read of both is by far cheaper than two.
  Memory memory;
  memory.items = {{0, 1, 168h}, {2, 1, 168h - 100ms}, {4, 1, 1ms}, {5, 1, 6ms + 7us}};
  memory.readable = [](int, int) { return true; };
  memory.line_time = [](int count) { return Duration{1min} + count * Duration{1ms}; };
  const auto blocks = choose_blocks({memory}, std::nullopt);
  REQUIRE(blocks);
  REQUIRE(blocks->size() == 1);
  REQUIRE((*blocks)[0].size() == 2);
  // The slow ones share a read, the quick ones too: any other way takes a minute more, or six registers each
  // millisecond.
  for (const Block& block : (*blocks)[0]) {
    const bool slow = block.every > 1h;
    CHECK(block.first == (slow ? 0 : 4));
    CHECK(block.count == (slow ? 3 : 2));
  }
}

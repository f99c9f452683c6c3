#include "sim/polling/readable.hpp"

#include <algorithm>
#include <memory>
#include <utility>
#include <vector>

#include "sim/registers/register_table.hpp"

namespace emberline::polling {
namespace {

constexpr int kBitsPerRegister = 16;

/// One value as a reader meets it.
struct Value {
  int first = 0;
  int end = 0;
  bool whole_only = false;
};

/// What can be read of one table, by address.
class Map {
 public:
  Map(std::vector<Value> values, bool gaps_are_zero)
      : values_(std::move(values)), gaps_are_zero_(gaps_are_zero) {
    std::sort(values_.begin(), values_.end(), [](const Value& a, const Value& b) {
      return std::pair(a.first, a.end) < std::pair(b.first, b.end);
    });
  }

  [[nodiscard]] bool readable(int first, int count) const {
    const int end = first + count;
    auto value = std::partition_point(values_.begin(), values_.end(),
                                      [first](const Value& one) { return one.end <= first; });
    int reached = first;  // everything before is mapped, or its gaps read as zero
    bool any = false;
    for (; value != values_.end() && value->first < end; ++value) {
      if (value->whole_only && (value->first < first || value->end > end)) return false;
      if (value->first > reached && !gaps_are_zero_) return false;
      reached = std::max(reached, value->end);
      any = true;
    }
    return any && (gaps_are_zero_ || reached >= end);
  }

 private:
  std::vector<Value> values_;
  bool gaps_are_zero_;
};

std::vector<Value> values_of(const registers::RegisterTable& table, modbus::Table which) {
  std::vector<Value> values;
  for (const registers::Row& row : table.rows()) {
    if (row.table != which || row.access == registers::Access::write_only) continue;
    const int end = row.address + registers::register_count(row.layout);
    values.push_back({row.address, end, row.split_refused});
  }
  return values;
}

std::vector<Value> values_of(const bench::IoBlockSpec& block, modbus::Table which) {
  std::vector<Value> values;
  switch (which) {
    case modbus::Table::coils:
      for (const auto& [address, wire] : block.coils) values.push_back({address, address + 1, false});
      break;
    case modbus::Table::discrete_inputs:
      for (const auto& [address, signal] : block.discrete) values.push_back({address, address + 1, false});
      break;
    case modbus::Table::input_registers:
      for (const auto& [address, input] : block.input)
        values.push_back({address, address + registers::register_count(input.layout), false});
      break;
    case modbus::Table::holding_registers:
      break;  // an io-block has none
  }
  return values;
}

}  // namespace

std::function<bool(int first, int count)> readable_in(const bench::BenchSpec& bench, bool io_block,
                                                      std::size_t slave, modbus::Table table) {
  if (io_block) {
    // Unwired addresses in a partly wired block read 0.
    return [map = std::make_shared<const Map>(values_of(bench.io_blocks.at(slave), table), true)](
               int first, int count) { return map->readable(first, count); };
  }
  const registers::RegisterTable& registers = *bench.units.at(slave).unit.table;
  return [map = std::make_shared<const Map>(
              values_of(registers, table), registers.gaps() == registers::Gaps::zero)](int first, int count) {
    return map->readable(first, count);
  };
}

int longest_read(const bench::BenchSpec& bench, bool io_block, std::size_t slave, modbus::Table table) {
  const bool bits = modbus::carries_bits(table);
  const int most = bits ? modbus::kReadBitsMax : modbus::kReadRegistersMax;
  if (io_block) return most;
  const auto& limit = bench.units.at(slave).unit.intake.largest_block;
  if (!limit) return most;
  const int registers = std::min(*limit, modbus::kReadRegistersMax);
  return std::min(most, bits ? registers * kBitsPerRegister : registers);
}

std::optional<int> reads_per_second(const bench::BenchSpec& bench, bool io_block, std::size_t slave) {
  if (io_block) return std::nullopt;
  return bench.units.at(slave).unit.intake.reads_per_second;
}

Duration turnaround_of(const bench::BenchSpec& bench, bool io_block, std::size_t slave) {
  return io_block ? bench.io_blocks.at(slave).turnaround : bench.units.at(slave).unit.turnaround;
}

}  // namespace emberline::polling

#include "sim/polling/readable.hpp"

#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "sim/bench/bench.hpp"
#include "sim/polling/poll_plan.hpp"
#include "tests/sim/polling/wishes.hpp"

using namespace emberline;
using namespace emberline::polling;
using namespace std::chrono_literals;
using modbus::Table;

namespace {

int function_of(Table table) {
  switch (table) {
    case Table::coils:
      return 1;
    case Table::discrete_inputs:
      return 2;
    case Table::input_registers:
      return 4;
    default:
      return 3;
  }
}

modbus::Bytes read_pdu(int function, int first, int count) {
  return {static_cast<std::uint8_t>(function), static_cast<std::uint8_t>(first >> 8),
          static_cast<std::uint8_t>(first), static_cast<std::uint8_t>(count >> 8),
          static_cast<std::uint8_t>(count)};
}

/// The shipped bench with another register table for its first unit, which takes any block.
bench::BenchSpec bench_with(const std::string& table) {
  bench::BenchSpec spec = testing::lehr();
  auto loaded =
      io::load_register_table(std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/" + table + ".yaml");
  REQUIRE(loaded);
  spec.units[0].unit.table = *loaded;
  spec.units[0].unit.intake = {};
  spec.units[0].unit.comms_loss.feeds = unit::Feeds::any_request;
  return spec;
}

bool answered(bench::Bench& bench, std::size_t line, int id, Table table, int first, int count) {
  const auto reply = bench.request(line, static_cast<std::uint8_t>(id),
                                   read_pdu(function_of(table), first, count), SimTime{10s}, "plc");
  return reply.pdu && !modbus::refusal_of(*reply.pdu);
}

}  // namespace

TEST_CASE("what counts as readable is what the slave answers: every table, 4,000 random reads each") {
  Random random(5);
  int yes = 0;
  int no = 0;
  const Table tables[] = {Table::coils, Table::discrete_inputs, Table::input_registers,
                          Table::holding_registers};
  for (const std::string name : {"short-blocks", "float-pairs", "metering", "io-block"}) {
    CAPTURE(name);
    const bool io_block = name == "io-block";
    const bench::BenchSpec spec = io_block ? testing::lehr() : bench_with(name);
    bench::Bench bench(spec);
    const std::size_t line = spec.find_line("ethernet").value();
    const int id = io_block ? spec.io_blocks[0].id : spec.units[0].unit.id;
    std::vector<std::pair<Table, int>> near{{Table::coils, 8},
                                            {Table::discrete_inputs, 8},
                                            {Table::input_registers, 1},
                                            {Table::holding_registers, 0}};
    if (!io_block) {
      near.clear();
      for (const auto& row : spec.units[0].unit.table->rows()) near.emplace_back(row.table, row.address);
    }
    for (int number = 0; number < 4000; ++number) {
      const auto& [table, address] = near[random.below(near.size())];
      const int first = std::max(0, address - 4 + static_cast<int>(random.below(9)));
      const int count = 1 + static_cast<int>(random.below(random.below(2) == 0 ? 4 : 30));
      const bool says = readable_in(spec, io_block, 0, table)(first, count);
      CAPTURE(static_cast<int>(table));
      CAPTURE(first);
      CAPTURE(count);
      CHECK(says == answered(bench, line, id, table, first, count));
      ++(says ? yes : no);
    }
    for (const Table table : tables) CHECK(longest_read(spec, io_block, 0, table) >= 125);
  }
  CHECK(yes > 3000);
  CHECK(no > 3000);
}

TEST_CASE("every block of a plan is answered with data: all shipped tables, 200 random wishes each") {
  Random random(9);
  int blocks = 0;
  int bridged = 0;
  for (const std::string name : {"short-blocks", "float-pairs", "metering"}) {
    CAPTURE(name);
    const bench::BenchSpec spec = bench_with(name);
    bench::Bench bench(spec);
    for (int number = 0; number < 200; ++number) {
      PollWish wish = testing::wish_for(spec, "field");
      const auto& rows = spec.units[0].unit.table->rows();
      const Duration periods[] = {500ms, 1s, 5s};
      const std::size_t many = 1 + random.below(12);
      for (std::size_t i = 0; i < many; ++i) {
        const auto& row = rows[random.below(rows.size())];
        if (row.access == registers::Access::write_only) continue;
        Wanted wanted;
        wanted.name = "soak-heater." + std::string(registers::name_of(row));
        wanted.table = row.table;
        wanted.address = row.address;
        wanted.count = registers::register_count(row.layout);
        wanted.every = periods[random.below(3)];
        wish.reads.push_back(wanted);
      }
      const auto plan = make_poll_plan(wish);
      REQUIRE(plan);
      std::vector<int> brought(wish.reads.size(), 0);
      for (const PlannedRequest& request : plan->requests) {
        ++blocks;
        bridged += request.bridged > 0 ? 1 : 0;
        CHECK(
            answered(bench, wish.line, request.id, request.table, request.range.first, request.range.count));
        for (const std::size_t value : request.brings) {
          ++brought[value];
          CHECK(wish.reads[value].every >= request.every);
          CHECK(wish.reads[value].address >= request.range.first);
          CHECK(wish.reads[value].address + wish.reads[value].count <=
                request.range.first + request.range.count);
        }
      }
      for (const int times : brought) CHECK(times == 1);
    }
  }
  CHECK(blocks > 600);
  CHECK(bridged > 100);
}

TEST_CASE("an intake counts sixteen bits as a register") {
  bench::BenchSpec spec = testing::lehr();
  spec.units[0].unit.intake.largest_block = 12;
  CHECK(longest_read(spec, false, 0, Table::holding_registers) == 12);
  CHECK(longest_read(spec, false, 0, Table::coils) == 192);
  spec.units[0].unit.intake.largest_block = 500;
  // MODBUS Application Protocol V1.1b3, 6.1 to 6.4.
  CHECK(longest_read(spec, false, 0, Table::input_registers) == 125);
  CHECK(longest_read(spec, false, 0, Table::discrete_inputs) == 2000);
  CHECK(longest_read(spec, true, 0, Table::discrete_inputs) == 2000);
}

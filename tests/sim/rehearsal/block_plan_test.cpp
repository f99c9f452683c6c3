#include "sim/rehearsal/block_plan.hpp"

#include <string>
#include <vector>

#include <doctest/doctest.h>

namespace emberline::rehearsal {
namespace {

using modbus::Table;
using registers::Type;

struct At {
  std::size_t slave;
  Table table;
  std::uint16_t address;
  Type type = Type::u16;
  bool io_block = false;
};

Target target(const At& at, int largest_block) {
  Target made;
  made.slave = at.slave;
  made.io_block = at.io_block;
  made.row.table = at.table;
  made.row.address = at.address;
  made.row.layout.type = at.type;
  made.largest_block = largest_block;
  return made;
}

/// "lead:first+count ..." in the order of the plan.
std::string planned(const std::vector<At>& places, int largest_block = 0) {
  std::vector<Target> targets;
  for (const At& place : places) targets.push_back(target(place, largest_block));
  std::string text;
  for (const BlockRead& block : plan_blocks(targets)) {
    if (!text.empty()) text += ' ';
    text += std::to_string(block.lead) + ":" + std::to_string(block.range.first) + "+" +
            std::to_string(block.range.count);
  }
  return text;
}

constexpr Table kHolding = Table::holding_registers;
constexpr Table kInput = Table::input_registers;
constexpr Table kCoils = Table::coils;

TEST_CASE("block reads join what touches and nothing else") {
  struct Case {
    const char* what;
    std::vector<At> places;
    int largest_block;
    const char* plan;
  };
  // The plans follow from the rule by hand; no published source.
  const std::vector<Case> cases = {
      {"nothing asked", {}, 0, ""},
      {"one register", {{0, kHolding, 64}}, 0, "0:64+1"},
      {"neighbours", {{0, kHolding, 64}, {0, kHolding, 65}}, 0, "0:64+2"},
      {"neighbours the other way round", {{0, kHolding, 65}, {0, kHolding, 64}}, 0, "0:64+2"},
      {"a gap is not read", {{0, kHolding, 64}, {0, kHolding, 66}}, 0, "0:64+1 1:66+1"},
      {"a third closes the gap", {{0, kHolding, 64}, {0, kHolding, 66}, {0, kHolding, 65}}, 0, "0:64+3"},
      {"the same twice is read once", {{0, kHolding, 64}, {0, kHolding, 64}}, 0, "0:64+1"},
      {"two tables", {{0, kHolding, 64}, {0, kInput, 65}}, 0, "0:64+1 1:65+1"},
      {"two slaves", {{0, kHolding, 64}, {1, kHolding, 65}}, 0, "0:64+1 1:65+1"},
      {"unit 0 is not io-block 0", {{0, kInput, 0}, {0, kInput, 1, Type::s16, true}}, 0, "0:0+1 1:1+1"},
      {"32-bit neighbours", {{0, kHolding, 10, Type::f32}, {0, kHolding, 12, Type::u32}}, 0, "0:10+4"},
      {"a gap behind 32 bits", {{0, kHolding, 10, Type::f32}, {0, kHolding, 13}}, 0, "0:10+2 1:13+1"},
      {"order of first appearance",
       {{0, kHolding, 90}, {0, kHolding, 10}, {0, kHolding, 91}, {0, kHolding, 11}},
       0,
       "0:90+2 1:10+2"},
      {"largest block 2", {{0, kHolding, 0}, {0, kHolding, 1}, {0, kHolding, 2}}, 2, "0:0+2 2:2+1"},
      {"32 bits are not cut at 3",
       {{0, kHolding, 0}, {0, kHolding, 1}, {0, kHolding, 2, Type::u32}},
       3,
       "0:0+2 2:2+2"},
      {"32 bits are asked for whole at 1", {{0, kHolding, 0, Type::u32}}, 1, "0:0+2"},
      {"coils", {{0, kCoils, 0, Type::bit, true}, {0, kCoils, 1, Type::bit, true}}, 0, "0:0+2"},
  };
  for (const Case& one : cases) {
    CAPTURE(one.what);
    CHECK(planned(one.places, one.largest_block) == one.plan);
  }
}

TEST_CASE("a block never asks for more than a PDU carries") {
  // MODBUS Application Protocol V1.1b3: 6.3 and 6.4 quantity 1 to 125 registers, 6.1 and 6.2 1 to 2000 bits.
  std::vector<At> registers;
  for (std::uint16_t address = 0; address < 130; ++address) registers.push_back({0, kHolding, address});
  CHECK(planned(registers) == "0:0+125 125:125+5");
  CHECK(planned(registers, 500) == "0:0+125 125:125+5");

  std::vector<At> pairs;
  for (std::uint16_t address = 0; address < 130; address = static_cast<std::uint16_t>(address + 2)) {
    pairs.push_back({0, kHolding, address, Type::f32});
  }
  CHECK(planned(pairs) == "0:0+124 62:124+6");

  std::vector<At> bits;
  for (std::uint16_t address = 0; address < 2001; ++address) bits.push_back({0, kCoils, address, Type::bit});
  CHECK(planned(bits) == "0:0+2000 2000:2000+1");
}

TEST_CASE("a slave's largest block counts sixteen bits for a register") {
  std::vector<At> bits;
  for (std::uint16_t address = 0; address < 40; ++address) bits.push_back({0, kCoils, address, Type::bit});
  CHECK(planned(bits, 2) == "0:0+32 32:32+8");
}

TEST_CASE("the last address is reached and not passed") {
  CHECK(planned({{0, kHolding, 65535}, {0, kHolding, 65534}}) == "0:65534+2");
  CHECK(planned({{0, kHolding, 65534, Type::u32}}) == "0:65534+2");
}

}  // namespace
}  // namespace emberline::rehearsal

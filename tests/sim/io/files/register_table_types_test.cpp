// Rows of the types of a register table, from the file to what a table holds.
#include <doctest/doctest.h>

#include "sim/io/files/load.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using registers::Coding;
using registers::Point;
using registers::Row;
using registers::Type;

namespace {

std::shared_ptr<const registers::RegisterTable> load(const std::string& text) {
  const test::Workspace workspace;
  const auto loaded = io::load_register_table(workspace.write("typed.yaml", text));
  if (!loaded)
    for (const auto& problem : loaded.error()) FAIL_CHECK(to_text(problem));
  REQUIRE(loaded.has_value());
  return *loaded;
}

std::vector<std::string> complaints(const std::string& text) {
  const test::Workspace workspace;
  const auto loaded = io::load_register_table(workspace.write("typed.yaml", text));
  std::vector<std::string> lines;
  if (!loaded)
    for (const auto& problem : loaded.error())
      lines.push_back(std::to_string(problem.place.line) + ": " + problem.message);
  return lines;
}

}  // namespace

TEST_CASE("a row of each type keeps what its file says") {
  const auto table = load(R"(register_table: Types
word_order: low-first
byte_order: low-first
words: { ours: { running: 9 }, lamps: { comms-loss: 3, load-open: 0 } }
holding:
  - { at: 0, point: energy, as: u64, scale: 0.1 kWh }
  - { at: 4, point: output, coding: bcd, scale: 0.1 % }
  - { at: 5, point: element_temperature, as: s16, coding: sign-magnitude, broken: -32767 }
  - { at: 6, point: warnings, as: bits, mask: 0x00F0, flags: lamps }
  - { at: 6, point: state, as: bits, mask: 0x000F, values: ours }
  - { at: 6, point: comms_policy, as: bits, mask: 0x0300, access: read-write, write_mask: 768 }
  - { at: 7, point: product_code, as: text, registers: 4 }
  - { at: 11, fixed: EL-24, as: text, registers: 3 }
  - { at: 14, fixed: -0x10, as: s32 }
  - { at: 16, fixed: 0.5, as: f32 }
  - { at: 18, fixed: 0xBEEF }
  - { at: 19, fixed: 1, as: bit, bit: 3 }
  - { at: 20, point: warnings, as: u64, flags: { comms-loss: 63 } }
)");
  const auto& rows = table->rows();
  REQUIRE(rows.size() == 13);
  const auto* energy = table->find(Point::energy);
  REQUIRE(energy != nullptr);
  CHECK(energy->layout.type == Type::u64);
  CHECK(energy->layout.scale == 0.1 * 3.6e6);
  CHECK(energy->layout.word_order == registers::WordOrder::low_first);
  CHECK(table->find(Point::output)->layout.coding == Coding::bcd);
  CHECK(table->find(Point::element_temperature)->layout.coding == Coding::sign_magnitude);
  CHECK(table->find(Point::element_temperature)->layout.broken == -32767);
  const auto* state = table->find(Point::state);
  CHECK(state->layout.mask == 0x000F);
  CHECK(state->values.at(3) == 9);
  CHECK(state->words == "ours");
  const auto* warnings = table->find(Point::warnings);
  CHECK(warnings->flags.at(0) == 3);
  CHECK(warnings->words == "lamps");
  CHECK(table->find(Point::comms_policy)->write_mask == 0x0300);
  const auto* code = table->find_text(registers::TextPoint::product_code);
  REQUIRE(code != nullptr);
  CHECK(code->layout.text_registers == 4);
  CHECK(code->layout.word_order == registers::WordOrder::high_first);
  CHECK(code->layout.byte_order == registers::ByteOrder::low_first);
  const auto at = [&rows](int address) {
    for (const auto& row : rows)
      if (row.address == address) return row;
    return Row{};
  };
  CHECK(at(11).fixed_text == "EL-24");
  CHECK(at(14).fixed == -16);
  CHECK(at(16).fixed == 0.5);
  CHECK(at(18).fixed == 0xBEEF);
  CHECK(at(19).fixed == 1);
  CHECK(at(19).bit_position == 3);
  CHECK(at(20).flags.at(0) == 63);
}

TEST_CASE("an enumeration of another point, or one nobody wrote, is told at the row that uses it") {
  const std::string head =
      "register_table: Words\nwords: { ours: { running: 9 }, lamps: { comms-loss: 3 } }\nholding:\n";
  CHECK(
      complaints(head + "  - { at: 0, point: state, values: lamps }\n") ==
      std::vector<std::string>{"4: values: 'lamps' has the word 'comms-loss', and this point has: unpowered, "
                               "starting, stopped, running, holding, preset, inhibited, tripped"});
  CHECK(complaints(head + "  - { at: 0, point: state, values: our }\n") ==
        std::vector<std::string>{"4: values: unknown enumeration 'our', did you mean 'ours'?"});
  CHECK(complaints(head + "  - { at: 0, point: setpoint, values: ours }\n") ==
        std::vector<std::string>{"4: values: this point has no words to renumber"});
  CHECK(complaints("register_table: Words\nwords: { lamps: { comms-loss: 20 } }\nholding:\n"
                   "  - { at: 0, point: trips, flags: lamps }\n") ==
        std::vector<std::string>{
            "4: trips at 0x0000 (40001): bit 20 does not fit the type u16: expected 0 to 15"});
}

TEST_CASE("a type that nobody knows is one complaint, not one for every key beside it") {
  CHECK(complaints("register_table: Words\nholding:\n  - { at: 0, point: state, as: bitz, mask: 0x0F, "
                   "coding: bcd }\n") ==
        std::vector<std::string>{"3: as: unknown word 'bitz', did you mean 'bit'?"});
}

TEST_CASE("rows that share a register may stand in any order, and are told apart in the list") {
  const auto table = load(R"(register_table: Shared
holding:
  - { at: 1, point: state, as: bits, mask: 0xF000 }
  - { at: 1, point: trips, as: bit, bit: 2 }
  - { at: 1, point: setpoint_source, as: bits, mask: 0x0008 }
)");
  REQUIRE(table->rows().size() == 3);
  CHECK(table->rows()[0].point == Point::trips);
  CHECK(table->rows()[1].point == Point::setpoint_source);
  CHECK(table->rows()[2].point == Point::state);
}

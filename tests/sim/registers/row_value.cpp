// A row as a master sees it: it knows the table and carries values both ways.
#include <cmath>

#include <doctest/doctest.h>

#include "tests/sim/registers/points.hpp"

namespace emberline::registers {
namespace {

using test::row_at;

TEST_CASE("a master carries words in the numbers of the table, both ways") {
  Row row = row_at(0, Point::state, Type::u16);
  row.values = {{static_cast<int>(State::running), 10},
                {static_cast<int>(State::stopped), 0},
                {static_cast<int>(State::unpowered), 2}};
  for (const auto& state : state_words()) {
    CAPTURE(state.first);
    CHECK(decode_row(row, encode_row(row, state.second).words) == state.second);
  }
  CHECK(encode_row(row, static_cast<double>(State::running)).words[0] == 10);
  CHECK(encode_row(row, static_cast<double>(State::stopped)).words[0] == 0);
  const std::uint16_t nobody[] = {3};  // running has moved away
  CHECK(std::isnan(decode_row(row, nobody)));
}

TEST_CASE("a master carries flags in the bits of the table, both ways") {
  Row row = row_at(0, Point::trips, Type::u32);
  row.flags = {{static_cast<int>(Trip::comms_loss), 31}, {static_cast<int>(Trip::fuse_open), 4}};
  const double both = bit(Trip::comms_loss) | bit(Trip::fuse_open);
  const auto words = encode_row(row, both);
  CHECK(words.words[0] == 0x8000);
  CHECK(words.words[1] == 0x0010);
  CHECK(decode_row(row, words.words) == both);
  CHECK(encode_row(row, bit(Trip::phase_lost)).words[1] == 0);  // not in the table's list: not carried
}

TEST_CASE("a master carries a bit where the row has it") {
  Row row = row_at(0, Point::reset, Type::bit);
  row.bit_position = 9;
  CHECK(encode_row(row, 1).words[0] == 0x0200);
  CHECK(encode_row(row, 0).words[0] == 0);
  const std::uint16_t other_bits[] = {0xFDFF};
  CHECK(decode_row(row, other_bits) == 0);
  const std::uint16_t all_bits[] = {0xFFFF};
  CHECK(decode_row(row, all_bits) == 1);

  Row coil = row_at(0, Point::reset, Type::bit);
  coil.table = modbus::Table::coils;
  CHECK(encode_row(coil, 1).words[0] == 1);
  const std::uint16_t on[] = {1};
  CHECK(decode_row(coil, on) == 1);
  // In a table whose registers carry the low byte first: a coil has no bytes to swap.
  coil.layout.byte_order = ByteOrder::low_first;
  CHECK(encode_row(coil, 1).words[0] == 1);
  CHECK(decode_row(coil, on) == 1);
  const std::uint16_t off[] = {0};
  CHECK(decode_row(coil, off) == 0);
  row.layout.byte_order = ByteOrder::low_first;
  CHECK(encode_row(row, 1).words[0] == 0x0002);
}

TEST_CASE("a bit that stands for a flag decodes to that flag") {
  Row row = row_at(0, Point::warnings, Type::bit);
  row.bit_position = 1;
  row.flag = static_cast<int>(Warning::load_open);
  const std::uint16_t set[] = {0x0002};
  CHECK(decode_row(row, set) == bit(Warning::load_open));
  CHECK(encode_row(row, bit(Warning::load_open) | bit(Warning::comms_loss)).words[0] == 0x0002);
  CHECK(encode_row(row, bit(Warning::comms_loss)).words[0] == 0);
}

TEST_CASE("a value without words or flags is carried as the codec has it") {
  const Row row = row_at(0, Point::load_current, Type::s32, 0.001);
  const auto words = encode_row(row, 65.536);
  CHECK(words.words[0] == 0x0001);
  CHECK(words.words[1] == 0x0000);
  CHECK(decode_row(row, words.words) == doctest::Approx(65.536));
}

}  // namespace
}  // namespace emberline::registers

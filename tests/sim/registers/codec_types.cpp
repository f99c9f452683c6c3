// Values of 64 bits, coded digits, masked bits and text in registers.
#include <bit>
#include <cmath>
#include <limits>
#include <string>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "sim/registers/codec.hpp"

namespace emberline::registers {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinity = std::numeric_limits<double>::infinity();
using List = std::vector<std::uint16_t>;

List listed(const Words& words) { return {words.words.begin(), words.words.begin() + words.used}; }

Layout coded(Type type, Coding coding, double scale = 1.0) {
  return {.type = type, .scale = scale, .coding = coding};
}

TEST_CASE("digits, signs and 64-bit counts stand in their registers as their definitions say") {
  const struct {
    const char* source;
    double value;
    Layout how;
    List registers;
  } rows[] = {
      // BCD: each decimal digit by itself in four bits (definition; ISO/IEC 2382, 'binary-coded decimal')
      {"8421 BCD, a nibble a digit: 1234", 1234, coded(Type::u16, Coding::bcd), {0x1234}},
      {"8421 BCD: 0", 0, coded(Type::u16, Coding::bcd), {0x0000}},
      {"8421 BCD: 9999, all nines", 9999, coded(Type::u16, Coding::bcd), {0x9999}},
      {"8421 BCD: 50.0 in tenths", 50.0, coded(Type::u16, Coding::bcd, 0.1), {0x0500}},
      {"8421 BCD: 87654321", 87654321, coded(Type::u32, Coding::bcd), {0x8765, 0x4321}},
      {"8421 BCD: 15 digits",
       123456789012345,
       coded(Type::u64, Coding::bcd),
       {0x0123, 0x4567, 0x8901, 0x2345}},
      // sign and magnitude, as the sign of IEEE 754 stands: the highest bit, 1 for minus
      {"sign-magnitude: 5", 5, coded(Type::s16, Coding::sign_magnitude), {0x0005}},
      {"sign-magnitude: -5", -5, coded(Type::s16, Coding::sign_magnitude), {0x8005}},
      {"sign-magnitude: 32767, the most", 32767, coded(Type::s16, Coding::sign_magnitude), {0x7FFF}},
      {"sign-magnitude: -32767, the least", -32767, coded(Type::s16, Coding::sign_magnitude), {0xFFFF}},
      {"sign-magnitude: -65536", -65536, coded(Type::s32, Coding::sign_magnitude), {0x8001, 0x0000}},
      {"sign-magnitude: no minus zero is sent", -0.0, coded(Type::s16, Coding::sign_magnitude), {0x0000}},
      // 64 bits, unsigned: plain powers of two
      {"2^32", 4294967296.0, coded(Type::u64, Coding::binary), {0x0000, 0x0001, 0x0000, 0x0000}},
      {"2^53 - 1, all fraction bits of an IEEE 754 double",
       9007199254740991.0,
       coded(Type::u64, Coding::binary),
       {0x001F, 0xFFFF, 0xFFFF, 0xFFFF}},
      {"2^53", 9007199254740992.0, coded(Type::u64, Coding::binary), {0x0020, 0x0000, 0x0000, 0x0000}},
  };
  for (const auto& row : rows) {
    CAPTURE(row.source);
    const auto words = encode(row.value, row.how);
    CHECK(listed(words) == row.registers);
    CHECK_FALSE(words.saturated);
    CHECK(decode(row.registers, row.how) == doctest::Approx(row.value).epsilon(1e-15));
  }
}

TEST_CASE("a large count is rounded to itself, and its half away from zero") {
  // Doubles have whole numbers up to 2^53 and halves up to 2^52 (IEEE 754 binary64).
  const Layout how{.type = Type::u64};
  for (const double count : {4503599627370497.0, 9007199254740991.0, 1099511627777.0, 1e15 + 1}) {
    CAPTURE(count);
    CHECK(decode(encode(count, how).words, how) == count);
  }
  CHECK(decode(encode(1099511627776.5, how).words, how) == 1099511627777.0);
  CHECK(decode(encode(1099511627776.25, how).words, how) == 1099511627776.0);
}

TEST_CASE("what does not fit stands at the end of its range, and is told") {
  const struct {
    double value;
    Layout how;
    List registers;
  } rows[] = {
      {10000, coded(Type::u16, Coding::bcd), {0x9999}},
      {-1, coded(Type::u16, Coding::bcd), {0x0000}},
      {1e9, coded(Type::u32, Coding::bcd), {0x9999, 0x9999}},
      {kInfinity, coded(Type::u16, Coding::bcd), {0x9999}},
      {kNan, coded(Type::u16, Coding::bcd), {0x9999}},
      {32768, coded(Type::s16, Coding::sign_magnitude), {0x7FFF}},
      {-32768, coded(Type::s16, Coding::sign_magnitude), {0xFFFF}},
      {1e300, coded(Type::u64, Coding::binary), {0x0020, 0x0000, 0x0000, 0x0000}},
      {-1, coded(Type::u64, Coding::binary), {0, 0, 0, 0}},
      {16, {.type = Type::bits, .mask = 0x00F0}, {0x00F0}},
      {-1, {.type = Type::bits, .mask = 0x00F0}, {0x0000}},
  };
  for (const auto& row : rows) {
    CAPTURE(row.value);
    const auto words = encode(row.value, row.how);
    CHECK(listed(words) == row.registers);
    CHECK(words.saturated);
  }
}

TEST_CASE("a nibble that is no digit makes no number, and two's complement's least is minus zero here") {
  CHECK(std::isnan(decode(List{0x12A4}, coded(Type::u16, Coding::bcd))));
  CHECK(std::isnan(decode(List{0x0000, 0xF000}, coded(Type::u32, Coding::bcd))));
  CHECK(decode(List{0x8000}, coded(Type::s16, Coding::sign_magnitude)) == 0.0);
  CHECK_FALSE(std::signbit(decode(List{0x8000}, coded(Type::s16, Coding::sign_magnitude))));
}

TEST_CASE("bits stand in their mask and nowhere else, whatever the others hold") {
  const Layout how{.type = Type::bits, .scale = 0.5, .mask = 0x0E00};
  CHECK(listed(encode(2.5, how)) == List{0x0A00});
  CHECK(decode(List{0xFBFF}, how) == 2.5);
  const Layout swapped{.type = Type::bits, .byte_order = ByteOrder::low_first, .mask = 0x0E00};
  CHECK(listed(encode(5, swapped)) == List{0x000A});
  const Layout all{.type = Type::bits};
  CHECK(listed(encode(65535, all)) == List{0xFFFF});
}

TEST_CASE("flags keep all 64 bits, which a double could not") {
  const Layout wide{.type = Type::u64, .word_order = WordOrder::low_first};
  constexpr std::uint64_t kBoth = (std::uint64_t{1} << 63u) | 1u;
  CHECK(listed(encode_flags(kBoth, wide)) == List{0x0001, 0x0000, 0x0000, 0x8000});
  CHECK(decode_flags(List{0x0001, 0x0000, 0x0000, 0x8000}, wide) == kBoth);
  const Layout some{.type = Type::bits, .mask = 0x00F0};
  CHECK(listed(encode_flags(0x13, some)) == List{0x0030});
  CHECK(decode_flags(List{0xFF3F}, some) == 3);
}

TEST_CASE("every count that a layout carries comes back, in any order of words and bytes") {
  const std::pair<Type, Coding> kinds[] = {{Type::bits, Coding::binary}, {Type::u16, Coding::binary},
                                           {Type::u16, Coding::bcd},     {Type::s16, Coding::sign_magnitude},
                                           {Type::u32, Coding::bcd},     {Type::s32, Coding::sign_magnitude},
                                           {Type::u64, Coding::binary},  {Type::u64, Coding::bcd}};
  Random random(7);
  for (const auto& [type, coding] : kinds) {
    for (const auto words : {WordOrder::high_first, WordOrder::low_first}) {
      for (const auto bytes : {ByteOrder::high_first, ByteOrder::low_first}) {
        Layout how{.type = type, .word_order = words, .byte_order = bytes, .coding = coding};
        for (int i = 0; i < 500; ++i) {
          if (type == Type::bits) {
            const auto low = static_cast<unsigned>(random.below(16));
            const auto size = 1 + static_cast<unsigned>(random.below(16 - low));
            how.mask = static_cast<std::uint16_t>(((1u << size) - 1) << low);
          }
          const double span = highest(how) - lowest(how);
          const auto part =
              static_cast<double>(random.below(1u << 30u)) / static_cast<double>((1u << 30u) - 1);
          const double count = std::floor(lowest(how) + span * part);
          CAPTURE(count);
          const auto carried = encode(count, how);
          REQUIRE_FALSE(carried.saturated);
          REQUIRE(decode(carried.words, how) == count);
        }
        CHECK(decode(encode(lowest(how), how).words, how) == lowest(how));
        CHECK(decode(encode(highest(how), how).words, how) == highest(how));
      }
    }
  }
}

TEST_CASE("text stands two characters a register, the first in the high byte, cut and filled") {
  // Character codes: ANSI INCITS 4 (ASCII), which UTF-8 (RFC 3629) has in common. Two a register, first one
  // high: common practice, no source.
  const Layout how{.type = Type::text, .text_registers = 3};
  CHECK(encode_text("EL-24", how) == List{0x454C, 0x2D32, 0x3400});
  CHECK(encode_text("", how) == List{0, 0, 0});
  CHECK(encode_text("EMBERLINE", how) == List{0x454D, 0x4245, 0x524C});
  const Layout swapped{.type = Type::text, .byte_order = ByteOrder::low_first, .text_registers = 2};
  CHECK(encode_text("EL-", swapped) == List{0x4C45, 0x002D});
  CHECK(decode_text(List{0x4C45, 0x002D}, swapped) == "EL-");
  CHECK(decode_text(List{0x454C, 0x2D32, 0x3400}, how) == "EL-24");
  CHECK(decode_text(List{0x4142, 0x2020, 0x2020}, how) == "AB");
  CHECK(decode_text(List{0x4100, 0x4242, 0x4242}, how) == "A");
}

TEST_CASE("a foreign device's text cannot steer the terminal it is shown on") {
  const Layout how{.type = Type::text, .text_registers = 2};
  CHECK(shown_text(List{0x1B5B, 0x3241}, how) == "?[2A");
  CHECK(shown_text(List{0xC3A4, 0x0A41}, how) == "???A");
}

}  // namespace
}  // namespace emberline::registers

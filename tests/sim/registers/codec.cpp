#include "sim/registers/codec.hpp"

#include <bit>
#include <cmath>
#include <limits>
#include <string>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"

namespace emberline::registers {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr Type kTypes[] = {Type::bit, Type::u16, Type::s16, Type::u32, Type::s32, Type::f32};

Layout layout(Type type, WordOrder words, ByteOrder bytes, double scale = 1.0) {
  return {.type = type, .scale = scale, .word_order = words, .byte_order = bytes};
}
Layout plain(Type type, double scale = 1.0) {
  return layout(type, WordOrder::high_first, ByteOrder::high_first, scale);
}

/// The one register of a 16-bit value.
unsigned word(double value, const Layout& how) { return encode(value, how).words[0]; }

TEST_CASE("a 32-bit value stands in its registers in any of the four orders") {
  constexpr auto kHigh = WordOrder::high_first;
  constexpr auto kLow = WordOrder::low_first;
  constexpr auto kBig = ByteOrder::high_first;
  constexpr auto kLittle = ByteOrder::low_first;
  const struct {
    const char* source;
    double value;
    Type type;
    WordOrder words;
    ByteOrder bytes;
    unsigned first;
    unsigned second;
  } rows[] = {
      // 123456 is 1.1110001001 b x 2^16: sign 0, exponent 16 + 127, fraction; IEEE 754, binary32
      {"IEEE 754 binary32 of 123456: 47F12000", 123456, Type::f32, kHigh, kBig, 0x47F1, 0x2000},
      {"the same, low word first", 123456, Type::f32, kLow, kBig, 0x2000, 0x47F1},
      {"the same, bytes swapped", 123456, Type::f32, kHigh, kLittle, 0xF147, 0x0020},
      {"the same, both", 123456, Type::f32, kLow, kLittle, 0x0020, 0xF147},
      {"IEEE 754 binary32 of -0.5: BF000000", -0.5, Type::f32, kHigh, kBig, 0xBF00, 0x0000},
      {"IEEE 754 binary32 of 1: 3F800000", 1, Type::f32, kLow, kLittle, 0x0000, 0x803F},
      {"IEEE 754 binary32 of 0.1, to nearest: 3DCCCCCD", 0.1, Type::f32, kHigh, kBig, 0x3DCC, 0xCCCD},
      {"IEEE 754: no minus zero", -0.0, Type::f32, kHigh, kBig, 0x0000, 0x0000},
      {"305419896 is 12345678h", 305419896, Type::u32, kHigh, kBig, 0x1234, 0x5678},
      {"the same, low word first", 305419896, Type::u32, kLow, kBig, 0x5678, 0x1234},
      {"the same, bytes swapped", 305419896, Type::u32, kHigh, kLittle, 0x3412, 0x7856},
      {"the same, both", 305419896, Type::u32, kLow, kLittle, 0x7856, 0x3412},
      {"two's complement of -2: FFFFFFFE", -2, Type::s32, kHigh, kBig, 0xFFFF, 0xFFFE},
      {"the same, low word first", -2, Type::s32, kLow, kBig, 0xFFFE, 0xFFFF},
      {"the same, bytes swapped", -2, Type::s32, kHigh, kLittle, 0xFFFF, 0xFEFF},
      {"the same, both", -2, Type::s32, kLow, kLittle, 0xFEFF, 0xFFFF},
  };
  for (const auto& row : rows) {
    CAPTURE(row.source);
    const auto how = layout(row.type, row.words, row.bytes);
    const auto words = encode(row.value, how);
    CHECK(words.used == 2);
    CHECK(words.words[0] == row.first);
    CHECK(words.words[1] == row.second);
    CHECK_FALSE(words.saturated);
    CHECK(decode(words.words, how) ==
          doctest::Approx(row.value).epsilon(row.type == Type::f32 ? 6e-8 : 1e-15));
  }
}

TEST_CASE("a 16-bit value takes one register, whose bytes can be swapped") {
  CHECK(word(4660, plain(Type::u16)) == 0x1234);
  CHECK(word(4660, layout(Type::u16, WordOrder::low_first, ByteOrder::low_first)) == 0x3412);
  CHECK(word(-2, plain(Type::s16)) == 0xFFFE);
  CHECK(word(-2, layout(Type::s16, WordOrder::high_first, ByteOrder::low_first)) == 0xFEFF);
  CHECK(encode(4660, plain(Type::u16)).used == 1);
  CHECK(encode(1, plain(Type::bit)).used == 1);
}

TEST_CASE("counts are rounded half away from zero, decimal halves included") {
  const struct {
    double value;
    double scale;
    double count;
  } rows[] = {
      {0.5, 1, 1},        {-0.5, 1, -1},        {2.5, 1, 3},       {-2.5, 1, -3},      {2.4999, 1, 2},
      {1.005, 0.01, 101}, {-1.005, 0.01, -101}, {0.5, 0.001, 500}, {0.0005, 0.001, 1}, {32.05, 0.1, 321},
      {0.49999, 1, 0},    {1.0, 0.001, 1000},   {12.34, 0.1, 123}, {12.35, 0.1, 124},  {5.0, -1, -5},
  };
  for (const auto& row : rows) {
    CAPTURE(row.value);
    CAPTURE(row.scale);
    const auto words = encode(row.value, plain(Type::s16, row.scale));
    CHECK(static_cast<std::int16_t>(words.words[0]) == row.count);
    const auto wide = encode(row.value, plain(Type::s32, row.scale));
    CHECK(static_cast<std::int16_t>(wide.words[1]) == row.count);
  }
}

TEST_CASE("what does not fit stands at the end of its type and says so") {
  const struct {
    double value;
    double carried;
    Type type;
    bool saturated;
  } rows[] = {
      {65535.4, 65535, Type::u16, false},
      {65535.5, 65535, Type::u16, true},
      {-0.4, 0, Type::u16, false},
      {-0.5, 0, Type::u16, true},
      {1e30, 65535, Type::u16, true},
      {kInfinity, 65535, Type::u16, true},
      {-kInfinity, 0, Type::u16, true},
      {kNan, 65535, Type::u16, true},
      {32767, 32767, Type::s16, false},
      {32768, 32767, Type::s16, true},
      {-32768, -32768, Type::s16, false},
      {-32769, -32768, Type::s16, true},
      {kNan, 32767, Type::s16, true},
      {4294967295.0, 4294967295.0, Type::u32, false},
      {4294967296.0, 4294967295.0, Type::u32, true},
      {2147483647.0, 2147483647.0, Type::s32, false},
      {2147483648.0, 2147483647.0, Type::s32, true},
      {-2147483648.0, -2147483648.0, Type::s32, false},
      {-2147483649.0, -2147483648.0, Type::s32, true},
      {kNan, 2147483647.0, Type::s32, true},
      {1e39, std::numeric_limits<float>::max(), Type::f32, true},
      {-kInfinity, std::numeric_limits<float>::lowest(), Type::f32, true},
      {3e38, static_cast<double>(3e38F), Type::f32, false},
      {0, 0, Type::bit, false},
      {0.001, 1, Type::bit, false},
      {-7, 1, Type::bit, false},
      {kNan, 0, Type::bit, true},
  };
  for (const auto& row : rows) {
    CAPTURE(static_cast<int>(row.type));
    CAPTURE(row.value);
    const auto words = encode(row.value, plain(row.type));
    CHECK(decode(words.words, plain(row.type)) == row.carried);
    CHECK(words.saturated == row.saturated);
  }
}

TEST_CASE("what has no value reads as its row says, in every type") {
  const auto carried = [](Type type, double scale, double broken) {
    Layout layout = plain(type, scale);
    layout.broken = broken;
    const auto words = encode(kNan, layout);
    CHECK_FALSE(words.saturated);
    CHECK(encode(scale, layout).words == encode(scale, plain(type, scale)).words);  // what has one is as ever
    return decode(words.words, plain(type));
  };
  CHECK(carried(Type::s16, 0.1, -32768) == -32768.0);  // a count, whatever the scale
  CHECK(carried(Type::u16, 0.1, 0) == 0.0);
  CHECK(carried(Type::s32, 0.1, -1) == -1.0);
  CHECK(carried(Type::f32, 0.1, -999) == -999.0);
}

TEST_CASE("NaN and infinity come through as floats") {
  const auto nan = encode(kNan, plain(Type::f32));
  CHECK(nan.words[0] == 0x7FC0);  // IEEE 754: a quiet NaN
  CHECK(nan.words[1] == 0x0000);
  CHECK_FALSE(nan.saturated);
  CHECK(std::isnan(decode(nan.words, plain(Type::f32, 0.01))));
  const std::uint16_t infinity[] = {0x7F80, 0x0000};  // IEEE 754
  CHECK(decode(infinity, plain(Type::f32)) == kInfinity);
  const std::uint16_t minus_infinity[] = {0xFF80, 0x0000};
  CHECK(decode(minus_infinity, plain(Type::f32)) == -kInfinity);
}

TEST_CASE("every register decodes and encodes to itself, in every type, order and scale") {
  Random random(11);
  for (const auto type : kTypes) {
    for (const auto words : {WordOrder::high_first, WordOrder::low_first}) {
      for (const auto bytes : {ByteOrder::high_first, ByteOrder::low_first}) {
        for (const double scale : {1.0, 0.1, 0.001, 3.6e6, 1.0 / 3, -0.25}) {
          const auto how = layout(type, words, bytes, type == Type::bit ? 1.0 : scale);
          int wrong = 0;
          for (int i = 0; i < 500; ++i) {
            const auto raw = random.bits();
            std::array<std::uint16_t, 4> in{static_cast<std::uint16_t>(raw & 0xFFFFu),
                                            static_cast<std::uint16_t>((raw >> 16u) & 0xFFFFu)};
            if (type == Type::bit) in = {static_cast<std::uint16_t>(raw & 1u), 0};
            if (type == Type::bit && bytes == ByteOrder::low_first)
              in[0] = static_cast<std::uint16_t>(in[0] << 8u);
            if (register_count(plain(type)) == 1) in[1] = 0;
            const double value = decode(in, how);
            if (!std::isfinite(value)) continue;
            const auto out = encode(value, how);
            if (type == Type::f32) {  // scaling may cost the last bit
              if (std::abs(decode(out.words, how) - value) > 1e-6 * std::abs(value)) ++wrong;
            } else if (out.words != in || out.saturated) {
              ++wrong;
            }
          }
          CAPTURE(static_cast<int>(type));
          CAPTURE(scale);
          CHECK(wrong == 0);
        }
      }
    }
  }
}

TEST_CASE("a random value comes back within half a count") {
  Random random(12);
  for (const auto type : {Type::u16, Type::s16, Type::u32, Type::s32}) {
    int wrong = 0;
    for (int i = 0; i < 5000; ++i) {
      const double scale = std::pow(10.0, static_cast<double>(random.below(7)) - 4.0);
      const auto how = plain(type, scale);
      const double span = highest(plain(type)) - lowest(plain(type));
      const double value = (lowest(plain(type)) + span * random.unit()) * scale;
      const double back = decode(encode(value, how).words, how);
      if (std::abs(back - value) > 0.5 * scale * (1 + 1e-9) + 1e-9 * std::abs(value)) ++wrong;
    }
    CAPTURE(static_cast<int>(type));
    CHECK(wrong == 0);
  }
}

TEST_CASE("types say how many registers they take and what they can carry") {
  CHECK(register_count(plain(Type::bit)) == 1);
  CHECK(register_count(plain(Type::u16)) == 1);
  CHECK(register_count(plain(Type::s16)) == 1);
  CHECK(register_count(plain(Type::u32)) == 2);
  CHECK(register_count(plain(Type::s32)) == 2);
  CHECK(register_count(plain(Type::f32)) == 2);
  CHECK(lowest(plain(Type::u16)) == 0);
  CHECK(highest(plain(Type::u16)) == 65535);
  CHECK(lowest(plain(Type::s16)) == -32768);
  CHECK(highest(plain(Type::s16)) == 32767);
  CHECK(highest(plain(Type::u32)) == 4294967295.0);
  CHECK(lowest(plain(Type::s32)) == -2147483648.0);
  CHECK(highest(plain(Type::s32)) == 2147483647.0);
  CHECK(highest(plain(Type::bit)) == 1);
  CHECK(highest(plain(Type::f32)) == doctest::Approx(3.4028235e38).epsilon(1e-7));  // IEEE 754 binary32
  CHECK(lowest(plain(Type::f32)) == -highest(plain(Type::f32)));
}

}  // namespace
}  // namespace emberline::registers

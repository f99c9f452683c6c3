#include "sim/registers/codec.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
#include <cmath>
#include <limits>

namespace emberline::registers {
namespace {

std::uint16_t swapped(std::uint16_t word) {
  return static_cast<std::uint16_t>((static_cast<unsigned>(word) >> 8u) |
                                    ((static_cast<unsigned>(word) & 0xFFu) << 8u));
}

std::uint16_t in_byte_order(std::uint16_t word, ByteOrder order) {
  return order == ByteOrder::high_first ? word : swapped(word);
}

constexpr double kExactWhole = 9007199254740992.0;  // 2^53: every whole number up to here is a double

int digits_of(const Layout& layout) { return register_count(layout) * 4; }

/// A decimal digit every four bits, the last one lowest.
std::uint64_t as_bcd(std::uint64_t count) {
  std::uint64_t raw = 0;
  for (unsigned place = 0; count != 0; place += 4, count /= 10) raw |= (count % 10) << place;
  return raw;
}

/// The number behind decimal digits; NaN if one of them is none.
double from_bcd(std::uint64_t raw) {
  double count = 0.0;
  for (int place = 60; place >= 0; place -= 4) {
    const auto digit = (raw >> static_cast<unsigned>(place)) & 0xFu;
    if (digit > 9) return std::numeric_limits<double>::quiet_NaN();
    count = count * 10.0 + static_cast<double>(digit);
  }
  return count;
}

int width_of(const Layout& layout) { return 16 * register_count(layout); }

/// The lowest bit of a mask.
unsigned shift_of(const Layout& layout) { return static_cast<unsigned>(std::countr_zero(layout.mask)); }

Words laid_out(std::uint64_t raw, const Layout& layout, bool saturated) {
  Words words;
  words.used = register_count(layout);
  words.saturated = saturated;
  const auto used = static_cast<std::size_t>(words.used);
  for (std::size_t i = 0; i < used; ++i) {  // i counts from the low end
    const auto word = static_cast<std::uint16_t>((raw >> (16u * i)) & 0xFFFFu);
    const std::size_t place = layout.word_order == WordOrder::high_first ? used - 1 - i : i;
    words.words[place] = in_byte_order(word, layout.byte_order);
  }
  return words;
}

std::uint64_t taken_in(std::span<const std::uint16_t> words, const Layout& layout) {
  const auto used = static_cast<std::size_t>(register_count(layout));
  assert(words.size() >= used);
  std::uint64_t raw = 0;
  for (std::size_t i = 0; i < used; ++i) {  // from the high end
    const std::size_t place = layout.word_order == WordOrder::high_first ? i : used - 1 - i;
    raw = (raw << 16u) | in_byte_order(words[place], layout.byte_order);
  }
  return raw;
}

/// As std::round, without a call for what has room in a whole number: half away from zero.
double nearest(double count) {
  if (!(std::abs(count) < kExactWhole)) return std::round(count);
  const auto whole = static_cast<double>(static_cast<std::int64_t>(count));
  const double rest = count - whole;  // exact
  return rest >= 0.5 ? whole + 1.0 : rest <= -0.5 ? whole - 1.0 : whole;
}

/// Half away from zero. Decimal halves are seldom exact in binary (1.005 / 0.01 gives 100.49999999999999),
/// so a count within four roundings of a half is taken for the half; where four roundings are more than a
/// trifle, as from 2^40 on, a trifle will do.
double rounded(double count) {
  constexpr double kRoundings = 4 * std::numeric_limits<double>::epsilon();
  constexpr double kTrifle = 1e-3;
  const double whole = nearest(count);
  if (whole == count) return whole;  // nothing to round, and no room to add anything above 2^52
  return nearest(count + std::copysign(std::min(std::abs(count) * kRoundings, kTrifle), count));
}

/// One plain register, which is what most points are carried in.
Words encode_plain(double whole, const Layout& layout) {
  const double low = layout.type == Type::s16 ? -32768.0 : 0.0;
  const double high = layout.type == Type::s16 ? 32767.0 : 65535.0;
  const double limited = whole < low ? low : whole > high ? high : whole;
  Words words;
  words.words[0] =
      in_byte_order(static_cast<std::uint16_t>(static_cast<std::int32_t>(limited)), layout.byte_order);
  words.saturated = limited != whole;
  return words;
}

Words encode_float(double count, const Layout& layout) {
  if (std::isnan(count)) {
    constexpr std::uint32_t kQuietNan = 0x7FC00000u;  // IEEE 754
    return laid_out(kQuietNan, layout, false);
  }
  const double limited = std::fmin(std::fmax(count, lowest(layout)), highest(layout));
  const float carried = static_cast<float>(limited + 0.0);  // + 0.0 makes a minus zero plain
  return laid_out(std::bit_cast<std::uint32_t>(carried), layout, limited != count);
}

}  // namespace

std::string_view to_word(Type type) {
  switch (type) {
    case Type::bit:
      return "bit";
    case Type::bits:
      return "bits";
    case Type::u16:
      return "u16";
    case Type::s16:
      return "s16";
    case Type::u32:
      return "u32";
    case Type::s32:
      return "s32";
    case Type::u64:
      return "u64";
    case Type::f32:
      return "f32";
    case Type::text:
      return "text";
  }
  return "bit";
}

std::string_view to_word(Coding coding) {
  switch (coding) {
    case Coding::binary:
      return "binary";
    case Coding::sign_magnitude:
      return "sign-magnitude";
    case Coding::bcd:
      return "bcd";
  }
  return "binary";
}

int register_count(const Layout& layout) {
  switch (layout.type) {
    case Type::bit:
    case Type::bits:
    case Type::u16:
    case Type::s16:
      return 1;
    case Type::u32:
    case Type::s32:
    case Type::f32:
      return 2;
    case Type::u64:
      return 4;
    case Type::text:
      return layout.text_registers;
  }
  return 1;
}

double lowest(const Layout& layout) {
  switch (layout.type) {
    case Type::s16:
    case Type::s32:
      return layout.coding == Coding::sign_magnitude ? -highest(layout) : -highest(layout) - 1.0;
    case Type::f32:
      return std::numeric_limits<float>::lowest();
    case Type::bit:
    case Type::bits:
    case Type::u16:
    case Type::u32:
    case Type::u64:
    case Type::text:
      return 0;
  }
  return 0;
}

double highest(const Layout& layout) {
  if (layout.coding == Coding::bcd)
    return std::fmin(std::pow(10.0, static_cast<double>(digits_of(layout))) - 1.0, kExactWhole);
  switch (layout.type) {
    case Type::bit:
      return 1;
    case Type::bits:
      return static_cast<double>(static_cast<unsigned>(layout.mask) >> shift_of(layout));
    case Type::u16:
      return std::numeric_limits<std::uint16_t>::max();
    case Type::s16:
      return std::numeric_limits<std::int16_t>::max();
    case Type::u32:
      return std::numeric_limits<std::uint32_t>::max();
    case Type::s32:
      return std::numeric_limits<std::int32_t>::max();
    case Type::u64:
      return kExactWhole;
    case Type::f32:
      return std::numeric_limits<float>::max();
    case Type::text:
      return 0;
  }
  return 0;
}

Words encode(double value, const Layout& layout) {
  const bool plain =
      layout.coding == Coding::binary && (layout.type == Type::u16 || layout.type == Type::s16);
  if (plain && !std::isnan(value)) return encode_plain(rounded(value / layout.scale), layout);
  if (layout.type == Type::bit) {
    const bool saturated = std::isnan(value);
    return laid_out(!saturated && value != 0.0 ? 1u : 0u, layout, saturated);
  }
  const bool no_value = std::isnan(value);
  const double count = no_value && layout.broken ? *layout.broken : value / layout.scale;
  if (layout.type == Type::f32) return encode_float(count, layout);
  const double whole = std::isnan(count) ? std::numeric_limits<double>::infinity() : rounded(count);
  if (plain) return encode_plain(whole, layout);
  const double limited = std::fmin(std::fmax(whole, lowest(layout)), highest(layout));
  const bool saturated = limited != whole;
  const auto magnitude = static_cast<std::uint64_t>(std::abs(limited));
  if (layout.coding == Coding::bcd) return laid_out(as_bcd(magnitude), layout, saturated);
  if (layout.coding == Coding::sign_magnitude) {
    const auto sign = limited < 0.0 ? std::uint64_t{1} << static_cast<unsigned>(width_of(layout) - 1) : 0u;
    return laid_out(sign | magnitude, layout, saturated);
  }
  if (layout.type == Type::bits) return laid_out(magnitude << shift_of(layout), layout, saturated);
  const auto raw = static_cast<std::uint64_t>(static_cast<std::int64_t>(limited));  // two's complement
  return laid_out(raw, layout, saturated);
}

double decode(std::span<const std::uint16_t> words, const Layout& layout) {
  const std::uint64_t raw = taken_in(words, layout);
  if (layout.coding == Coding::bcd) return from_bcd(raw) * layout.scale;
  if (layout.coding == Coding::sign_magnitude) {
    const auto sign = std::uint64_t{1} << static_cast<unsigned>(width_of(layout) - 1);
    const auto magnitude = static_cast<double>(raw & ~sign);
    return ((raw & sign) != 0 && magnitude != 0.0 ? -magnitude : magnitude) * layout.scale;
  }
  switch (layout.type) {
    case Type::bit:
      return static_cast<double>(raw & 1u);
    case Type::bits:
      return static_cast<double>((raw & layout.mask) >> shift_of(layout)) * layout.scale;
    case Type::u16:
    case Type::u32:
    case Type::u64:
      return static_cast<double>(raw) * layout.scale;
    case Type::s16:
      return static_cast<std::int16_t>(raw) * layout.scale;
    case Type::s32:
      return static_cast<std::int32_t>(raw) * layout.scale;
    case Type::f32:
      return static_cast<double>(std::bit_cast<float>(static_cast<std::uint32_t>(raw))) * layout.scale;
    case Type::text:
      return 0;
  }
  return 0;
}

Words encode_flags(std::uint64_t flags, const Layout& layout) {
  if (layout.type == Type::bits) flags = (flags << shift_of(layout)) & layout.mask;
  return laid_out(flags, layout, false);
}

std::uint64_t decode_flags(std::span<const std::uint16_t> words, const Layout& layout) {
  const auto raw = taken_in(words, layout);
  return layout.type == Type::bits ? (raw & layout.mask) >> shift_of(layout) : raw;
}

std::vector<std::uint16_t> encode_text(std::string_view text, const Layout& layout) {
  std::vector<std::uint16_t> words(static_cast<std::size_t>(register_count(layout)), 0);
  const auto at = [text](std::size_t i) {
    return i < text.size() ? static_cast<unsigned>(static_cast<unsigned char>(text[i])) : 0u;
  };
  for (std::size_t i = 0; i < words.size(); ++i)
    words[i] =
        in_byte_order(static_cast<std::uint16_t>((at(2 * i) << 8u) | at(2 * i + 1)), layout.byte_order);
  return words;
}

std::string decode_text(std::span<const std::uint16_t> words, const Layout& layout) {
  std::string text;
  for (const auto word : words) {
    const auto pair = static_cast<unsigned>(in_byte_order(word, layout.byte_order));
    text += static_cast<char>(static_cast<unsigned char>(pair >> 8u));
    text += static_cast<char>(static_cast<unsigned char>(pair & 0xFFu));
  }
  text.resize(std::min(text.size(), text.find('\0')));
  while (!text.empty() && text.back() == ' ') text.pop_back();
  return text;
}

std::string shown_text(std::span<const std::uint16_t> words, const Layout& layout) {
  auto text = decode_text(words, layout);
  std::replace_if(
      text.begin(), text.end(), [](char c) { return c < ' ' || c > '~'; }, '?');
  return text;
}

}  // namespace emberline::registers

#include "sim/io/tables/import_cells.hpp"

#include <algorithm>

#include "sim/io/tables/import_characters.hpp"

namespace emberline::io {
namespace {

/// Where a range is parted: behind its lower end.
std::optional<std::pair<std::string_view, std::string_view>> parted(std::string_view text) {
  for (const std::string_view separator : {"...", "..", " to ", " bis ", "~"}) {
    const auto at = text.find(separator);
    if (at != std::string_view::npos && at > 0)
      return std::pair{text.substr(0, at), text.substr(at + separator.size())};
  }
  for (std::size_t i = 1; i + 1 < text.size(); ++i) {
    const char before = text[i - 1];
    if (text[i] == '-' && before != 'e' && before != 'E' && before != '-')
      return std::pair{text.substr(0, i), text.substr(i + 1)};
    if ((text[i] == ';' || text[i] == '/') && is_digit(before))
      return std::pair{text.substr(0, i), text.substr(i + 1)};
  }
  return std::nullopt;
}

/// Digits of a hexadecimal number behind its mark; nothing without one.
std::optional<std::string> marked_hexadecimal(const std::string& small) {
  for (const std::string_view mark : {"0x", "16#", "&h", "$"})
    if (small.starts_with(mark)) return small.substr(mark.size());
  return std::nullopt;
}

/// The same of addresses and masks, which may be written "0030h" or "#0030"; "24h" elsewhere is a day.
std::optional<std::string> marked_address(const std::string& small) {
  if (auto digits = marked_hexadecimal(small)) return digits;
  if (small.starts_with('#')) return small.substr(1);
  if (small.ends_with('h') && small.size() > 1) return small.substr(0, small.size() - 1);
  return std::nullopt;
}

/// One number of an address, as parse_address reads it.
Result<std::string, std::string> one_address(std::string_view text, AddressHabit habit) {
  const auto fail = [&] {
    const std::string expected = habit == AddressHabit::decimal ? "a decimal address"
                                 : habit == AddressHabit::hexadecimal
                                     ? "a hexadecimal address"
                                     : "an address, decimal or as 0x0030 or 0030h";
    return Failure{"expected " + expected + ", found '" + std::string(text) + "'"};
  };
  auto small = lower(without(std::string(text), " '_"));
  if (small.size() > 2 && small[1] == 'x' && (small[0] == '1' || small[0] == '3' || small[0] == '4'))
    small.erase(1, 1);  // "4x0001", a reference number
  const auto marked = marked_address(small);
  if (habit != AddressHabit::decimal && (marked || habit == AddressHabit::hexadecimal)) {
    const auto digits = marked.value_or(small);
    if (!number_in(digits, 16)) return fail();
    return "0x" + digits;
  }
  if (small.empty() || small.find_first_not_of(kDigits) != std::string::npos) return fail();
  return small;
}

}  // namespace

std::optional<double> plain_number(std::string_view text) {
  const auto cell = trimmed(plain(text));
  if (const auto whole = whole_number_of(cell)) return *whole;
  const auto number = leading_number(cell);
  if (!number || !number->second.empty()) return std::nullopt;
  return number->first;
}

std::optional<std::uint32_t> whole_number_of(std::string_view text) {
  const auto small = lower(trimmed(text));
  if (small.starts_with("0b") || small.starts_with("2#")) return number_in(without(small.substr(2), " _"), 2);
  if (const auto digits = marked_hexadecimal(small)) return number_in(*digits, 16);
  return number_in(small, 10);
}

Result<AddressCell, std::string> address_cell(std::string_view text, AddressHabit habit, bool bit_allowed) {
  auto whole = trimmed(plain(text));
  AddressCell cell;
  std::string last;
  for (const std::string_view separator : {"..", "-", "/"}) {
    const auto at = whole.find(separator);
    if (at == std::string::npos || at == 0) continue;
    last = trimmed(std::string_view(whole).substr(at + separator.size()));
    whole = trimmed(std::string_view(whole).substr(0, at));
    break;
  }
  if (const auto dot = whole.find_first_of(".:"); dot != std::string::npos && bit_allowed && last.empty()) {
    const auto bit = number_in(std::string_view(whole).substr(dot + 1), 10);
    if (!bit || *bit > 15)
      return Failure{"expected a bit from 0 to 15 behind the address, found '" + std::string(text) + "'"};
    cell.bit = static_cast<int>(*bit);
    whole.resize(dot);
  }
  const auto first = one_address(whole, habit);
  if (!first) return Failure{first.error()};
  cell.text = *first;
  if (last.empty()) return cell;
  const auto end = one_address(last, habit);
  const auto from = whole_number_of(*first);
  const auto to = end ? whole_number_of(*end) : std::nullopt;
  if (!from || !to || *to < *from || *to - *from > 999)
    return Failure{"expected an address or a first and a last one, found '" + std::string(text) + "'"};
  cell.registers = static_cast<int>(*to - *from) + 1;
  return cell;
}

std::optional<RangeCell> range_cell(std::string_view text) {
  const auto cell = trimmed(plain(text));
  const auto ends = parted(bracketless(cell));
  if (!ends) return std::nullopt;
  const auto first = trimmed(ends->first);
  const auto second = trimmed(ends->second);
  const auto lowest = leading_number(first);
  const auto highest = leading_number(second);
  if (!lowest || !highest || lowest->first > highest->first) return std::nullopt;
  RangeCell range{lowest->first, highest->first, std::nullopt};
  for (const auto& behind : {trimmed(lowest->second), trimmed(highest->second)}) {
    if (behind.empty()) continue;
    const auto unit = unit_cell(behind);
    if (!unit) return std::nullopt;
    if (range.unit && *unit && (*unit)->factor != range.unit->factor) return std::nullopt;
    range.unit = *unit;
  }
  return range;
}

std::optional<EndCell> end_cell(std::string_view text) {
  const auto cell = trimmed(plain(text));
  if (const auto number = plain_number(cell)) return EndCell{*number, std::nullopt};
  const auto number = leading_number(cell);
  if (!number) return std::nullopt;
  const auto unit = unit_cell(number->second);
  if (!unit || !*unit || (*unit)->text.empty()) return std::nullopt;
  return EndCell{number->first, **unit};
}

std::optional<std::uint16_t> bit_cell(std::string_view text) {
  auto small = lower(trimmed(plain(text)));
  for (const std::string_view word : {"bits", "bit", "b", "."})
    if (small.starts_with(word) && !small.starts_with("0b")) {
      small = trimmed(std::string_view(small).substr(word.size()));
      break;
    }
  const auto part = [](std::string_view digits) -> std::optional<unsigned> {
    const auto number = number_in(digits, 10);
    return number && *number <= 15 ? std::optional<unsigned>(*number) : std::nullopt;
  };
  if (const auto one = part(small)) return static_cast<std::uint16_t>(1U << *one);
  const auto ends = parted(small);
  if (!ends) return std::nullopt;
  auto first = part(trimmed(ends->first));
  auto last = part(trimmed(ends->second));
  if (!first || !last) return std::nullopt;
  if (*first > *last) std::swap(first, last);
  return static_cast<std::uint16_t>(((2U << (*last - *first)) - 1U) << *first);
}

std::optional<std::uint16_t> mask_cell(std::string_view text, bool hexadecimal) {
  const auto small = lower(trimmed(text));
  if (small.starts_with("bit") || (!hexadecimal && small.size() > 1 && small[0] == 'b' && is_digit(small[1])))
    return bit_cell(small);
  auto digits = marked_address(small);
  if (hexadecimal && !digits) digits = small;
  const auto number = digits ? number_in(*digits, 16) : whole_number_of(small);
  return number && *number >= 1 && *number <= 0xFFFF ? std::optional(static_cast<std::uint16_t>(*number))
                                                     : std::nullopt;
}

}  // namespace emberline::io

#include "sim/io/tables/import_labels.hpp"

#include <algorithm>
#include <bit>
#include <set>
#include <utility>

namespace emberline::io {
namespace {

using registers::Point;

constexpr int kHighestNumber = 65535;  // that a register table's `values` takes

std::optional<int> number_of(std::span<const registers::Word> words, std::string_view name) {
  for (const auto& [word, number] : words)
    if (word == name) return number;
  return std::nullopt;
}

std::string word_of_number(std::span<const registers::Word> words, int number) {
  for (const auto& [word, ours] : words)
    if (ours == number) return std::string(word);
  return std::to_string(number);
}

std::string told(const Labelled& entry) {
  return "'" + entry.label + "' (" + std::to_string(entry.number) + ")";
}

/// Our own word of an entry: as it is, or as the mapping explains it.
std::string own_word(const Labelled& entry, const TableMapping& mapping) {
  const auto found = mapping.words.find(loose(entry.label));
  return found == mapping.words.end() ? entry.label : found->second;
}

/// A number that nothing stands for yet: behind all of them, or else the first that is free.
std::optional<int> free_number(const std::set<int>& used, int highest) {
  if (const int next = *used.rbegin() + 1; next <= highest) return next;
  for (int number = 0; number <= highest; ++number)
    if (!used.contains(number)) return number;
  return std::nullopt;
}

/// Gives numbers to words that the table has none for, where their own are taken; false if there are none
/// left.
bool complete(std::span<const registers::Word> words, const std::set<int>& taken, int highest,
              LabelsRead& read) {
  std::string given;
  auto used = taken;
  for (const auto& [word, ours] : words)
    if (!read.numbers.contains(ours)) used.insert(ours);
  const auto listed = read.numbers;
  for (const auto& [word, ours] : words) {
    if (listed.contains(ours) || !taken.contains(ours)) continue;
    const auto number = free_number(used, highest);
    if (!number) return false;
    used.insert(*number);
    read.numbers[ours] = *number;
    given += (given.empty() ? "" : ", ") + std::string(word) + " as " + std::to_string(*number);
  }
  if (!given.empty())
    read.remarks.push_back("has no number for some words of ours, which are carried so: " + given);
  return true;
}

/// Our number of an entry of an enumeration, if its label is a word of ours or goes by one.
std::optional<int> value_of(const Labelled& entry, Point point, const TableMapping& mapping) {
  const auto own = number_of(registers::point_info(point).values, own_word(entry, mapping));
  return own ? own : guess_value(point, entry.label);
}

/// The same of a bit.
std::optional<int> flag_of(const Labelled& entry, Point point, const TableMapping& mapping) {
  const auto& info = registers::point_info(point);
  if (const auto own = number_of(info.flags, own_word(entry, mapping))) return own;
  const auto guess = guess_flag(entry.label, info.name);
  return guess.candidates.size() == 1 && guess.candidates.front().point == point
             ? guess.candidates.front().flag
             : std::nullopt;
}

/// 1, 2, 4, 8 for bits 0 to 3.
void decimal_masks_to_bits(std::vector<Labelled>& entries) {
  const auto is_mask = [](const Labelled& entry) {
    return !entry.is_bit && entry.number > 0 && std::has_single_bit(static_cast<unsigned>(entry.number));
  };
  // 1, 2 alone could be bits as well as masks; a 4 without a 3 tells.
  const bool high = std::any_of(entries.begin(), entries.end(), [](const auto& e) { return e.number >= 4; });
  if (!high || !std::all_of(entries.begin(), entries.end(), is_mask)) return;
  for (auto& entry : entries) entry.number = std::countr_zero(static_cast<unsigned>(entry.number));
}

}  // namespace

Result<LabelsRead, std::string> read_values(const std::vector<Labelled>& entries, Point point, double highest,
                                            const TableMapping& mapping) {
  const auto words = registers::point_info(point).values;
  LabelsRead read;
  std::set<int> taken;
  for (const auto& entry : entries) {
    const auto own = number_of(words, own_word(entry, mapping));
    const auto ours = value_of(entry, point, mapping);
    taken.insert(entry.number);
    if (!ours) {
      read.remarks.push_back(told(entry) + " is no word of " +
                             std::string(registers::point_info(point).name));
    } else if (!read.numbers.emplace(*ours, entry.number).second) {
      read.remarks.push_back(told(entry) + " would be " + word_of_number(words, *ours) + " too, which is " +
                             std::to_string(read.numbers.at(*ours)));
    } else if (!own) {
      read.guessed = true;
    }
  }
  if (read.numbers.empty()) return Failure{std::string("none of its values is a word of ours")};
  const int most = static_cast<int>(std::min(highest, static_cast<double>(kHighestNumber)));
  if (!complete(words, taken, most, read))
    return Failure{"leaves no numbers for the other words of " +
                   std::string(registers::point_info(point).name)};
  return read;
}

LabelsRead read_flags(const std::vector<Labelled>& entries, Point point, const TableMapping& mapping) {
  const auto& info = registers::point_info(point);
  LabelsRead read;
  for (const auto& entry : entries) {
    const bool own = number_of(info.flags, own_word(entry, mapping)).has_value();
    const auto ours = flag_of(entry, point, mapping);
    if (!ours) {
      read.remarks.push_back("bit " + told(entry) + " is none of " + std::string(info.name));
    } else if (!read.numbers.emplace(*ours, entry.number).second) {
      read.remarks.push_back("bit " + told(entry) + " would be " + word_of_number(info.flags, *ours) +
                             " too");
    } else if (!own) {
      read.guessed = true;
    }
  }
  return read;
}

PointGuess guess_bit(const std::string& name, const std::string& of, const TableMapping& mapping) {
  PointGuess guess;
  if (const auto word = mapping.words.find(loose(name)); word != mapping.words.end()) {
    guess = guess_flag(word->second, name + " " + of);
  } else {
    guess = guess_flag(name, of);
  }
  if (!guess.candidates.empty()) return guess;
  for (const auto& point : guess_point(name, std::nullopt).candidates) {
    const auto& info = registers::point_info(*point.point);
    if (info.dimension == Dimension::logical || !info.flags.empty()) guess.candidates.push_back(point);
  }
  return guess;
}

bool is_list_of_masks(const std::vector<Labelled>& entries, const PointGuess& guess, const std::string& of,
                      const TableMapping& mapping) {
  auto bits = entries;
  const auto is_bit = [](const Labelled& entry) { return entry.is_bit; };
  if (!hexadecimal_to_bits(bits) || std::none_of(bits.begin(), bits.end(), is_bit)) return false;
  if (guess.candidates.size() != 1) return true;
  const auto point = *guess.candidates.front().point;
  if (registers::point_info(point).values.empty()) return true;
  const auto values = std::count_if(entries.begin(), entries.end(), [&](const auto& entry) {
    return value_of(entry, point, mapping).has_value();
  });
  // "0x03 = tripped" goes by the name of trips, too.
  const auto others = std::count_if(entries.begin(), entries.end(), [&](const auto& entry) {
    return !value_of(entry, point, mapping) && guess_bit(entry.label, of, mapping).candidates.size() == 1;
  });
  return others > values || values == 0;
}

Result<Done, std::string> masks_to_bits(std::vector<Labelled>& entries, Point point, bool decimal,
                                        const TableMapping& mapping) {
  const auto is_zero = [](const Labelled& entry) { return entry.hexadecimal && entry.number == 0; };
  const bool means_bit_0 = std::any_of(entries.begin(), entries.end(), [&](const auto& entry) {
    return is_zero(entry) && flag_of(entry, point, mapping);
  });
  if (means_bit_0 || !hexadecimal_to_bits(entries))
    return Failure{
        std::string("hexadecimal numbers of flags are masks of one bit such as 0x0008, or write bit 3")};
  std::erase_if(entries, is_zero);  // "0x00: none" is said of no bit
  if (decimal) decimal_masks_to_bits(entries);
  return Done{};
}

}  // namespace emberline::io

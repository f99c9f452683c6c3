#include "sim/io/files/signal_value.hpp"

#include <algorithm>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr int kLargestFlags = 65535;  // what one register carries

std::vector<std::string> names_of(std::span<const registers::Word> words) {
  std::vector<std::string> names;
  for (const auto& word : words) names.emplace_back(word.first);
  return names;
}

bool is_number(const Node& node) {
  return node.kind == Node::Kind::scalar && parse_quantity(node.text, Dimension::number).has_value();
}

/// The number of one word; nothing after a complaint.
std::optional<int> read_one_word(const Node& node, std::span<const registers::Word> words,
                                 Problems& problems) {
  const auto known = names_of(words);
  const auto index = read_choice(&node, known, {}, problems);
  return index ? std::optional(words[*index].second) : std::nullopt;
}

const registers::Word* find_word(std::span<const registers::Word> words, std::string_view name) {
  const auto found =
      std::find_if(words.begin(), words.end(), [&](const auto& word) { return word.first == name; });
  return found == words.end() ? nullptr : &*found;
}

std::uint32_t mask_of(const registers::Word& flag) { return 1U << static_cast<unsigned>(flag.second); }

/// The bit of one flag by its word; 0 after a complaint.
std::uint32_t read_flag(const Node& node, std::span<const registers::Word> flags, Problems& problems) {
  if (const auto* flag = find_word(flags, node.text)) return mask_of(*flag);
  read_choice(&node, names_of(flags), {}, problems);
  return 0;
}

/// Flags as a number, the way a register carries them.
bool read_flag_number(const Node& node, std::span<const registers::Word> flags, double& into,
                      Problems& problems) {
  int number = 0;
  if (!read_whole(&node, {0, kLargestFlags}, number, problems)) return false;
  auto left = static_cast<std::uint32_t>(number);
  for (const auto& flag : flags) left &= ~mask_of(flag);
  if (left != 0) {
    complain_kind(node, "names such as [" + listed(names_of(flags)) + "] or the sum of their bits", problems);
    return false;
  }
  into = number;
  return true;
}

bool read_flags(const Node& node, std::span<const registers::Word> flags, double& into, Problems& problems) {
  if (node.kind == Node::Kind::scalar && node.text == "none") {
    into = 0.0;
    return true;
  }
  const auto list = read_list(&node, problems);
  std::uint32_t mask = 0;
  bool good = !list.empty();
  for (const auto* item : list) {
    const auto bit = read_flag(*item, flags, problems);
    good = good && bit != 0;
    mask |= bit;
  }
  if (good) into = mask;
  return good;
}

}  // namespace

bool read_signal_value(const Node& node, const bench::SignalInfo& info, double& into, Problems& problems) {
  if (!info.flags.empty()) {
    return is_number(node) ? read_flag_number(node, info.flags, into, problems)
                           : read_flags(node, info.flags, into, problems);
  }
  if (is_number(node) && info.dimension == Dimension::number)
    return read_quantity(&node, Dimension::number, Bound::not_negative, into, problems);
  if (!info.values.empty()) {
    const auto number = read_one_word(node, info.values, problems);
    if (number) into = *number;
    return number.has_value();
  }
  return read_quantity(&node, info.dimension, Bound::any, into, problems);
}

}  // namespace emberline::io

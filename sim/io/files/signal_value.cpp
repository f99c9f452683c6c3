#include "sim/io/files/signal_value.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

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

bool read_flags(const Node& node, std::span<const registers::Word> flags, double& into, Problems& problems) {
  if (node.kind == Node::Kind::scalar && node.text == "none") {
    into = 0.0;
    return true;
  }
  const auto list = read_list(&node, problems);
  std::uint32_t mask = 0;
  bool good = !list.empty();
  for (const auto* item : list) {
    const auto bit = read_one_word(*item, flags, problems);
    good = good && bit.has_value();
    if (bit) mask |= 1U << static_cast<unsigned>(*bit);
  }
  if (good) into = mask;
  return good;
}

}  // namespace

bool read_signal_value(const Node& node, const bench::SignalInfo& info, double& into, Problems& problems) {
  if (is_number(node) && info.dimension == Dimension::number)
    return read_quantity(&node, Dimension::number, Bound::not_negative, into, problems);
  if (!info.flags.empty()) return read_flags(node, info.flags, into, problems);
  if (!info.values.empty()) {
    const auto number = read_one_word(node, info.values, problems);
    if (number) into = *number;
    return number.has_value();
  }
  return read_quantity(&node, info.dimension, Bound::any, into, problems);
}

}  // namespace emberline::io

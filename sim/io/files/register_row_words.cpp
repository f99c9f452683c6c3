// Words that a table numbers in its own way: `values`, `flags` and `flag` of rows, `words` of a table.
#include <algorithm>

#include "sim/io/files/register_row_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/registers/table_check.hpp"

namespace emberline::io {

using registers::Row;
using registers::Type;

namespace {

constexpr int kLargestNumber = 65535;
constexpr int kMostBits = 64;

const registers::Word* find_word(std::span<const registers::Word> words, std::string_view name) {
  const auto found =
      std::find_if(words.begin(), words.end(), [&](const auto& word) { return word.first == name; });
  return found == words.end() ? nullptr : &*found;
}

/// The words of all points, each once.
std::vector<std::string> all_words() {
  std::vector<std::string> names;
  for (const auto& info : registers::all_points())
    for (const auto& words : {info.values, info.flags})
      for (const auto& word : words)
        if (std::find(names.begin(), names.end(), word.first) == names.end()) names.emplace_back(word.first);
  return names;
}

/// `values` or `flags` of a row, as far as the two are alike.
struct Renumbering {
  std::span<const registers::Word> words;  ///< of the point
  int highest;                             ///< number or bit
  std::string_view example;
};

/// A name of the table's enumerations instead of words.
void take_named(const Node& node, const Renumbering& what, const NamedWords& named, Row& row,
                std::map<int, int>& into, Problems& problems) {
  const auto list = named.find(node.text);
  if (list == named.end()) {
    if (named.empty()) return complain_kind(node, what.example, problems);
    std::vector<std::string> names;
    for (const auto& [name, words] : named) names.push_back(name);
    return complain(problems, node.place, node.label + ": " + unknown("enumeration", node.text, names));
  }
  for (const auto& [name, number] : list->second) {
    const auto* word = find_word(what.words, name);
    if (word == nullptr)
      return complain(problems, node.place,
                      node.label + ": '" + list->first + "' has the word '" + name +
                          "', and this point has: " + listed(names_of(what.words)));
    into[word->second] = number;
  }
  row.words = list->first;
}

/// `values: { running: 10 }` and `flags: { comms-loss: 4 }`: our number -> number carried.
void read_renumbering(const Node* node, const Renumbering& what, const NamedWords& named, Row& row,
                      std::map<int, int>& into, Problems& problems) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (what.words.empty())
    return complain(problems, node->header, node->label + ": this point has no words to renumber");
  if (node->kind == Node::Kind::scalar) return take_named(*node, what, named, row, into, problems);
  if (node->kind != Node::Kind::mapping) return complain_kind(*node, what.example, problems);
  for (const auto& entry : node->entries) {
    const auto* word = find_word(what.words, entry.label);
    if (word == nullptr) {
      complain(problems, entry.header,
               node->label + ": " + unknown("word", entry.label, names_of(what.words)));
      continue;
    }
    int carried = 0;
    if (read_whole(&entry, {0, what.highest}, carried, problems)) into[word->second] = carried;
  }
}

void read_flag(const Node* node, std::span<const registers::Word> words, Row& row, Problems& problems) {
  if (node == nullptr) return;
  if (words.empty()) {
    complain(problems, node->header, "flag: only warnings and trips have flags");
    return;
  }
  if (const auto index = read_choice(node, names_of(words), {}, problems)) row.flag = words[*index].second;
}

}  // namespace

std::vector<std::string> names_of(std::span<const registers::Word> words) {
  std::vector<std::string> names;
  for (const auto& word : words) names.emplace_back(word.first);
  return names;
}

void read_words(Fields& fields, const registers::PointInfo& info, const RowDefaults& defaults, Row& row,
                Problems& problems) {
  if (row.layout.type == Type::bit) {
    read_flag(fields.optional("flag"), info.flags, row, problems);
    fields.refuse("values", "a single bit carries no numbers");
    fields.refuse("flags", "a single bit carries one flag: write 'flag: NAME'");
    return;
  }
  fields.refuse("flag", "only a row that is carried 'as: bit' picks one flag; 'flags:' moves bits of a word");
  read_renumbering(fields.optional("values"),
                   {info.values, kLargestNumber, "numbers such as { running: 10 }"}, defaults.words, row,
                   row.values, problems);
  const int bits = registers::flag_bits(row.layout);  // 0: the table's check says why
  read_renumbering(fields.optional("flags"),
                   {info.flags, (bits == 0 ? kMostBits : bits) - 1, "bits such as { comms-loss: 4 }"},
                   defaults.words, row, row.flags, problems);
}

void read_named_words(const Node* node, NamedWords& into, Problems& problems) {
  constexpr std::string_view kExample = "names with words such as { my_states: { running: 10 } }";
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::mapping) return complain_kind(*node, kExample, problems);
  const auto known = all_words();
  for (const auto& list : node->entries) {
    if (list.kind == Node::Kind::refused) continue;
    if (list.kind != Node::Kind::mapping || list.entries.empty()) {
      complain_kind(list, "words with their numbers such as { running: 10 }", problems);
      continue;
    }
    auto& words = into[list.label];
    for (const auto& entry : list.entries) {
      if (std::find(known.begin(), known.end(), entry.label) == known.end()) {
        complain(problems, entry.header, list.label + ": " + unknown("word", entry.label, known));
        continue;
      }
      int number = 0;
      if (read_whole(&entry, {0, kLargestNumber}, number, problems)) words.emplace_back(entry.label, number);
    }
  }
}

}  // namespace emberline::io

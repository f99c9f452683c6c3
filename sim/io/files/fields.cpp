#include "sim/io/files/fields.hpp"

#include <algorithm>

#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

bool contains(const std::vector<std::string>& words, std::string_view word) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

}  // namespace

Fields::Fields(const Node& node, std::string_view example, Problems& problems)
    : node_(node), problems_(problems), usable_(node.kind == Node::Kind::mapping) {
  if (usable_ || node.kind == Node::Kind::refused) return;
  const std::string label = node.label.empty() ? "" : node.label + ": ";
  complain(problems, node.place, label + "expected keys and values such as " + std::string(example));
}

const Node* Fields::present(std::string_view key) {
  if (!contains(known_, key)) known_.emplace_back(key);
  return usable_ ? node_.find(key) : nullptr;
}

const Node* Fields::required(std::string_view key, std::string_view hint) {
  const auto* value = optional(key);
  if (value == nullptr && usable_ && node_.find(key) == nullptr)
    missing_.push_back({std::string(key), std::string(hint)});
  return value;
}

const Node* Fields::optional(std::string_view key) {
  const auto* value = present(key);
  if (value == nullptr || value->kind != Node::Kind::null) return value;
  complain(problems_, value->place, std::string(key) + ": nothing stands here, expected a value");
  return nullptr;
}

const Node* Fields::may_be_empty(std::string_view key) { return present(key); }

void Fields::later(std::initializer_list<std::string_view> keys) {
  for (const auto key : keys) later_.emplace_back(key);
}

void Fields::refuse(std::string_view key, std::string_view reason) {
  refused_.emplace_back(key);
  if (!usable_) return;
  if (const auto* value = node_.find(key))
    complain(problems_, value->header, std::string(key) + ": " + std::string(reason));
}

void Fields::done() { finish(true); }
void Fields::leave() { finish(false); }

void Fields::finish(bool all_keys_known) {
  if (!usable_) return;
  for (const auto& entry : node_.entries) {
    if (contains(known_, entry.label) || contains(refused_, entry.label)) continue;
    const bool is_later = contains(later_, entry.label);
    const auto meant = std::find_if(missing_.begin(), missing_.end(), [&](const Missing& missing) {
      return nearest_word(entry.label, known_) == missing.key;
    });
    if (meant != missing_.end() && !is_later) {
      missing_.erase(meant);
    } else if (!all_keys_known) {
      continue;
    }
    complain(problems_, entry.header,
             is_later ? not_there_yet(entry.label, known_) : unknown("key", entry.label, known_));
  }
  const std::string label = node_.label.empty() ? "" : node_.label + ": ";
  for (const auto& [key, hint] : missing_)
    complain(problems_, node_.header,
             label + "key '" + key + "' is missing" + (hint.empty() ? "" : ", " + hint));
}

}  // namespace emberline::io

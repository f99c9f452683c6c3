#include "sim/io/files/node.hpp"

#include <algorithm>
#include <tuple>

namespace emberline::io {
namespace {

constexpr std::size_t kLongestMessage = 400;

bool is_control(char c) { return static_cast<unsigned char>(c) < 0x20U || c == 0x7F; }
bool is_inside_character(char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; }

}  // namespace

const Node* Node::find(std::string_view key) const {
  const auto found =
      std::find_if(entries.begin(), entries.end(), [&](const Node& entry) { return entry.label == key; });
  return found == entries.end() ? nullptr : &*found;
}

void complain(Problems& problems, const Place& place, std::string message) {
  std::replace_if(message.begin(), message.end(), is_control, ' ');
  if (message.size() > kLongestMessage) {
    std::size_t end = kLongestMessage;
    while (end > 0 && is_inside_character(message[end])) --end;
    message.resize(end);
    message += "...";
  }
  problems.push_back({place, std::move(message)});
}

void sort_by_place(Problems& problems) {
  std::stable_sort(problems.begin(), problems.end(), [](const Diagnostic& a, const Diagnostic& b) {
    return std::tie(a.place.line, a.place.column) < std::tie(b.place.line, b.place.column);
  });
}

}  // namespace emberline::io

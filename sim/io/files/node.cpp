#include "sim/io/files/node.hpp"

#include <algorithm>
#include <tuple>
#include <utility>

#include "sim/base/plain_text.hpp"

namespace emberline::io {
namespace {

constexpr std::size_t kLongestMessage = 400;

}  // namespace

const Node* Node::find(std::string_view key) const {
  const auto found =
      std::find_if(entries.begin(), entries.end(), [&](const Node& entry) { return entry.label == key; });
  return found == entries.end() ? nullptr : &*found;
}

void complain(Problems& problems, const Place& place, std::string message) {
  problems.push_back({place, one_line(std::move(message), kLongestMessage)});
}

void sort_by_place(Problems& problems) {
  std::stable_sort(problems.begin(), problems.end(), [](const Diagnostic& a, const Diagnostic& b) {
    return std::tie(a.place.line, a.place.column) < std::tie(b.place.line, b.place.column);
  });
}

}  // namespace emberline::io

#pragma once

#include <array>
#include <cstddef>
#include <initializer_list>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/io/files/node.hpp"

namespace emberline::io {

// Readers of single values. Each takes the node a Fields gave, null included, in which case it does nothing;
// complains at the value's place, naming its key; and returns true when `into` has been set.

/// Which numbers a quantity may have.
enum class Bound { any, not_negative, positive };

/// No quantity of a file is larger, in SI units.
inline constexpr double kLargestQuantity = 1e12;

/// A text on one line: a title, a name, a path.
bool read_text(const Node* node, std::string& into, Problems& problems);
/// A text that may go over several lines, which are joined by blanks.
bool read_prose(const Node* node, std::string& into, Problems& problems);
bool read_quantity(const Node* node, Dimension dimension, Bound bound, double& into, Problems& problems);
bool read_quantity(const Node* node, Dimension dimension, Bound bound, std::optional<double>& into,
                   Problems& problems);
struct Range {
  double lowest;
  double highest;
};
/// A quantity within limits, ends included; `expected` says which.
bool read_within(const Node* node, Dimension dimension, Range range, std::string_view expected, double& into,
                 Problems& problems);
/// One value for all legs, or a list of one for each; `legs` is 1 or 3.
bool read_per_leg(const Node* node, Dimension dimension, Bound bound, std::size_t legs,
                  std::array<double, 3>& into, Problems& problems);
/// At most 1000 days, so that sums of times stay exact.
bool read_duration(const Node* node, Bound bound, Duration& into, Problems& problems);
bool read_duration(const Node* node, Bound bound, std::optional<Duration>& into, Problems& problems);
/// on/off, true/false, yes/no.
bool read_switch(const Node* node, bool& into, Problems& problems);

struct WholeNumber {
  int lowest;
  int highest;
  std::string_view unit = {};  ///< a word that may follow: "registers"
};
/// Decimal, or hexadecimal with 0x.
bool read_whole(const Node* node, const WholeNumber& limits, int& into, Problems& problems);
bool read_whole(const Node* node, const WholeNumber& limits, std::optional<int>& into, Problems& problems);

/// Index of the node's word in `known`; `later` are words that will be known one day.
std::optional<std::size_t> read_choice(const Node* node, const std::vector<std::string>& known,
                                       std::initializer_list<std::string_view> later, Problems& problems);

/// A word of a file and what it stands for.
template <class T>
struct Choice {
  std::string_view word;
  T value;
};
template <class T, std::size_t N>
bool read_word(const Node* node, const Choice<T> (&choices)[N], T& into, Problems& problems,
               std::initializer_list<std::string_view> later = {}) {
  std::vector<std::string> known;
  for (const auto& choice : choices) known.emplace_back(choice.word);
  const auto index = read_choice(node, known, later, problems);
  if (index) into = choices[*index].value;
  return index.has_value();
}

/// The plain values of a list; a single value counts as a list of one. Refuses empty lists, doubles and
/// anything but plain values.
std::vector<const Node*> read_list(const Node* node, Problems& problems);

/// Complains that `node` does not hold what was expected ("KEY: expected WHAT, found ...").
void complain_kind(const Node& node, std::string_view expected, Problems& problems);

/// What physics refuses of the parameters under `node`, in its own words.
void complain_all(const Node& node, const std::vector<std::string>& found, Problems& problems);

/// "KEY: " for messages, or nothing where there is no key.
[[nodiscard]] std::string label_of(const Node& node);

}  // namespace emberline::io

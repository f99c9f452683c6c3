#include "sim/io/files/values.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>

#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr double kAbsoluteZero_degC = -273.15;
constexpr double kLongest_s = 1000.0 * 24 * 3600;

/// The node's text, after a complaint nothing.
const std::string* plain(const Node* node, std::string_view expected, Problems& problems) {
  if (node == nullptr) return nullptr;
  if (node->kind == Node::Kind::scalar && !node->text.empty()) return &node->text;
  complain_kind(*node, expected, problems);
  return nullptr;
}

/// What is wrong with a value of the right unit; empty if nothing is.
std::string why_refused(double value, Dimension dimension, Bound bound) {
  if (bound == Bound::positive && !(value > 0.0)) return "must be above 0";
  if (bound == Bound::not_negative && value < 0.0) return "must not be negative";
  if (dimension == Dimension::temperature && value < kAbsoluteZero_degC) return "lies below absolute zero";
  if (std::abs(value) > kLargestQuantity) return "is too large to be meant";
  if (dimension == Dimension::time && std::abs(value) > kLongest_s) return "is longer than 1000 days";
  return {};
}

std::string dimension_example(Dimension dimension) {
  const auto parsed = parse_quantity("?", dimension);
  std::string text = parsed ? std::string{} : parsed.error();
  return text.substr(0, text.find(", found"));
}

}  // namespace

std::string label_of(const Node& node) { return node.label.empty() ? std::string{} : node.label + ": "; }

void complain_kind(const Node& node, std::string_view expected, Problems& problems) {
  if (node.kind == Node::Kind::refused) return;
  std::string_view found = "nothing";
  if (node.kind == Node::Kind::sequence) found = node.items.empty() ? "none" : "a list";
  if (node.kind == Node::Kind::mapping) found = node.entries.empty() ? "none" : "keys and values";
  std::string text(expected);
  if (!text.starts_with("expected")) text = "expected " + text;
  if (node.kind == Node::Kind::scalar && !node.text.empty()) {
    complain(problems, node.place, label_of(node) + text + ", found '" + node.text + "'");
  } else {
    complain(problems, node.place, label_of(node) + text + ", found " + std::string(found));
  }
}

void complain_all(const Node& node, const std::vector<std::string>& found, Problems& problems) {
  for (const auto& problem : found) complain(problems, node.header, label_of(node) + problem);
}

bool read_text(const Node* node, std::string& into, Problems& problems) {
  const auto* text = plain(node, "a text", problems);
  if (text == nullptr) return false;
  if (text->find('\n') != std::string::npos) {
    complain_kind(*node, "a text on one line", problems);
    return false;
  }
  into = *text;
  return true;
}

bool read_prose(const Node* node, std::string& into, Problems& problems) {
  const auto* text = plain(node, "a text", problems);
  if (text == nullptr) return false;
  into = *text;
  std::replace(into.begin(), into.end(), '\n', ' ');
  return true;
}

bool read_quantity(const Node* node, Dimension dimension, Bound bound, double& into, Problems& problems) {
  if (node == nullptr) return false;
  const auto* text = plain(node, dimension_example(dimension), problems);
  if (text == nullptr) return false;
  const auto value = parse_quantity(*text, dimension);
  if (!value) {
    complain(problems, node->place, label_of(*node) + value.error());
    return false;
  }
  if (const auto why = why_refused(*value, dimension, bound); !why.empty()) {
    complain(problems, node->place, label_of(*node) + "'" + *text + "' " + why);
    return false;
  }
  into = *value;
  return true;
}

bool read_quantity(const Node* node, Dimension dimension, Bound bound, std::optional<double>& into,
                   Problems& problems) {
  double value = 0.0;
  if (!read_quantity(node, dimension, bound, value, problems)) return false;
  into = value;
  return true;
}

bool read_per_leg(const Node* node, Dimension dimension, Bound bound, std::size_t legs,
                  std::array<double, 3>& into, Problems& problems) {
  if (node == nullptr) return false;
  if (node->kind != Node::Kind::sequence) {
    double all = 0.0;
    if (!read_quantity(node, dimension, bound, all, problems)) return false;
    into.fill(all);
    return true;
  }
  if (node->items.size() != legs) {
    complain(
        problems, node->place,
        label_of(*node) + "expected " +
            (legs == 1 ? std::string("one value, as there is one leg") : "a value for each of the 3 legs") +
            ", found " + std::to_string(node->items.size()));
    return false;
  }
  bool good = true;
  for (std::size_t leg = 0; leg < legs; ++leg)
    good = read_quantity(&node->items[leg], dimension, bound, into[leg], problems) && good;
  return good;
}

bool read_within(const Node* node, Dimension dimension, Range range, std::string_view expected, double& into,
                 Problems& problems) {
  double value = 0.0;
  if (!read_quantity(node, dimension, Bound::any, value, problems)) return false;
  if (value < range.lowest || value > range.highest) {
    complain_kind(*node, expected, problems);
    return false;
  }
  into = value;
  return true;
}

bool read_duration(const Node* node, Bound bound, Duration& into, Problems& problems) {
  double seconds = 0.0;
  if (!read_quantity(node, Dimension::time, bound, seconds, problems)) return false;
  into = from_seconds(seconds);
  if (bound != Bound::positive || into > Duration{}) return true;
  complain(problems, node->place, label_of(*node) + "'" + node->text + "' is shorter than a nanosecond");
  return false;
}

bool read_duration(const Node* node, Bound bound, std::optional<Duration>& into, Problems& problems) {
  Duration value{};
  if (!read_duration(node, bound, value, problems)) return false;
  into = value;
  return true;
}

bool read_switch(const Node* node, bool& into, Problems& problems) {
  double value = 0.0;
  if (!read_quantity(node, Dimension::logical, Bound::any, value, problems)) return false;
  into = value != 0.0;
  return true;
}

bool read_whole(const Node* node, const WholeNumber& limits, int& into, Problems& problems) {
  const std::string unit = limits.unit.empty() ? "" : " " + std::string(limits.unit);
  const std::string expected =
      "a whole number from " + std::to_string(limits.lowest) + " to " + std::to_string(limits.highest) + unit;
  const auto* text = plain(node, expected, problems);
  if (text == nullptr) return false;
  int value = 0;
  const bool hex = text->size() > 2 && (text->starts_with("0x") || text->starts_with("0X")) &&
                   std::isxdigit(static_cast<unsigned char>((*text)[2])) != 0;
  const auto* end = text->data() + text->size();
  const auto [rest, error] = std::from_chars(text->data() + (hex ? 2 : 0), end, value, hex ? 16 : 10);
  const std::string_view behind(rest, static_cast<std::size_t>(end - rest));
  const bool unit_fits = behind.empty() || (!unit.empty() && behind == unit);
  if (error == std::errc{} && unit_fits && value >= limits.lowest && value <= limits.highest) {
    into = value;
    return true;
  }
  complain_kind(*node, expected, problems);
  return false;
}

bool read_whole(const Node* node, const WholeNumber& limits, std::optional<int>& into, Problems& problems) {
  int value = 0;
  if (!read_whole(node, limits, value, problems)) return false;
  into = value;
  return true;
}

std::optional<std::size_t> read_choice(const Node* node, const std::vector<std::string>& known,
                                       std::initializer_list<std::string_view> later, Problems& problems) {
  const auto* text = plain(node, "one of: " + listed(known), problems);
  if (text == nullptr) return std::nullopt;
  const auto found = std::find(known.begin(), known.end(), *text);
  if (found != known.end()) return static_cast<std::size_t>(found - known.begin());
  const bool is_later = std::find(later.begin(), later.end(), *text) != later.end();
  complain(problems, node->place,
           label_of(*node) + (is_later ? not_there_yet(*text, known) : unknown("word", *text, known)));
  return std::nullopt;
}

std::vector<const Node*> read_list(const Node* node, Problems& problems) {
  if (node == nullptr || node->kind == Node::Kind::refused) return {};
  if (node->kind == Node::Kind::scalar && !node->text.empty()) return {node};
  if (node->kind != Node::Kind::sequence || node->items.empty()) {
    complain(problems, node->place,
             label_of(*node) + "expected a list such as [first, second] with at least one entry");
    return {};
  }
  std::vector<const Node*> list;
  for (const auto& item : node->items) {
    const bool twice =
        std::any_of(list.begin(), list.end(), [&](const Node* other) { return other->text == item.text; });
    if (item.kind != Node::Kind::scalar || item.text.empty()) {
      complain_kind(item, "a word", problems);
    } else if (twice) {
      complain(problems, item.place, label_of(item) + "'" + item.text + "' stands twice in the list");
    } else {
      list.push_back(&item);
    }
  }
  return list;
}

}  // namespace emberline::io

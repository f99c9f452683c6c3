#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <string>
#include <string_view>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/target.hpp"
#include "sim/rehearsal/unknown_signal.hpp"

namespace emberline::io {
namespace {

using rehearsal::Condition;
using rehearsal::Conduct;
using rehearsal::ConductKind;
using Comparator = Condition::Comparator;

struct KindWord {
  std::string_view word;
  ConductKind kind;
  std::string_view example;
};
constexpr std::string_view kWrittenExample =
    "one written point such as { soak-heater.setpoint: { at_most: 0 % } }";
constexpr std::array kKinds{
    KindWord{"first_write", ConductKind::first_write, kWrittenExample},
    KindWord{"last_write", ConductKind::last_write, kWrittenExample},
    KindWord{"every_write", ConductKind::every_write, kWrittenExample},
    KindWord{"no_write", ConductKind::no_write, "a point such as soak-heater.setpoint"},
    KindWord{"write_count", ConductKind::write_count,
             "a point and how many writes, such as { soak-heater.setpoint: { at_most: 3 } }"},
    KindWord{"write_rate", ConductKind::write_rate,
             "a point and how often, such as { soak-heater.setpoint: { at_most: 10 per min } }"},
    KindWord{"poll_period", ConductKind::poll_period,
             "a point and how often it is read, such as { soak-heater.state: { at_most: 2.5 s } }"},
    KindWord{"silence", ConductKind::silence,
             "a unit, io-block or line and for how long, such as { soak-heater: { at_most: 3 s } }"},
    KindWord{"retries", ConductKind::retries,
             "a unit or io-block and how many, such as { soak-heater: { at_most: 2 } }"},
    KindWord{"exceptions", ConductKind::exceptions,
             "a unit or io-block and which or how many, such as { soak-heater: none }"},
    KindWord{"read_back", ConductKind::read_back,
             "a point and how soon, such as { soak-heater.setpoint: 2 s }"},
    KindWord{"read_before_write", ConductKind::read_before_write,
             "the point written and the one to be read before, such as { soak-heater.setpoint: "
             "soak-heater.state }"},
};

bool is_about_writes(ConductKind kind) {
  return kind != ConductKind::poll_period && kind != ConductKind::silence && kind != ConductKind::retries &&
         kind != ConductKind::exceptions;
}

/// The point of a unit with this name; nothing after a complaint.
std::optional<bench::SignalId> find_point(const std::string& name, const Node& at, const Place& place,
                                          bool written, bool read, ScenarioDraft& draft) {
  auto& problems = draft.problems;
  const auto& bench = draft.spec.bench;
  const auto refuse = [&](const std::string& why) {
    complain(problems, place, label_of(at) + why);
    return std::nullopt;
  };
  const auto signal = bench::find_signal(bench, name);
  if (!signal) {
    complain(problems, place, rehearsal::unknown_signal(bench, name));
    return std::nullopt;
  }
  const auto point = static_cast<registers::Point>(signal->sub);
  const bool is_point = signal->kind == bench::SignalId::Kind::unit_point;
  if (written && !(is_point && registers::point_info(point).writable))
    return refuse("'" + name + "' is no point that a master could write");
  if (!is_point) return refuse("'" + name + "' is no point of a unit");
  if (written) {
    // Whether the register table of the unit lets a master write it.
    if (const auto target = rehearsal::resolve_target(bench, name, true); !target)
      return refuse(target.error());
  }
  if (read) {
    const auto& table = *bench.units[signal->index].unit.table;
    const bool readable = std::any_of(table.rows().begin(), table.rows().end(), [&](const auto& row) {
      return carries_point(row) && row.point == point && row.access != registers::Access::write_only;
    });
    if (!readable)
      return refuse("'" + name + "' cannot be read by the register table '" + table.title() + "'");
  }
  return signal;
}

bool find_slave(const Node& entry, Conduct& conduct, ScenarioDraft& draft) {
  const auto& bench = draft.spec.bench;
  const bool lines = conduct.kind == ConductKind::silence;
  const auto take = [&](Conduct::Of of, std::optional<std::size_t> index) {
    if (index) {
      conduct.of = of;
      conduct.index = *index;
    }
    return index.has_value();
  };
  if (take(Conduct::Of::unit, bench.find_unit(entry.label)) ||
      take(Conduct::Of::io_block, bench.find_io_block(entry.label)) ||
      (lines && take(Conduct::Of::line, bench.find_line(entry.label))))
    return true;
  std::vector<std::string> known;
  for (const auto section : {"units", "io_blocks", "lines"}) {
    if (section == std::string_view("lines") && !lines) continue;
    const auto& names = draft.names.of(section);
    known.insert(known.end(), names.begin(), names.end());
  }
  complain(draft.problems, entry.header,
           unknown(lines ? "unit, io-block or line" : "unit or io-block", entry.label, known));
  return false;
}

/// Takes a word off the ends of all values of a node: " times" of "3 times".
void strip(Node& node, std::string_view word) {
  if (node.text.ends_with(word)) node.text.resize(node.text.size() - word.size());
  for (auto& item : node.items) strip(item, word);
  for (auto& entry : node.entries) strip(entry, word);
}

/// Only these comparators; what is written as a plain value is `equals`.
bool check_comparator(const Node& entry, const Condition& condition,
                      std::initializer_list<Comparator> allowed, std::string_view words,
                      ScenarioDraft& draft) {
  if (std::find(allowed.begin(), allowed.end(), condition.comparator) != allowed.end()) return true;
  const bool compared = entry.kind == Node::Kind::mapping && !entry.entries.empty();
  complain(draft.problems, compared ? entry.entries.front().header : entry.place,
           label_of(entry) + "expected " + std::string(words));
  return false;
}

void read_count(const Node& entry, Condition& condition, ScenarioDraft& draft) {
  Node plain = entry;
  strip(plain, " times");
  strip(plain, " time");
  const auto before = draft.problems.size();
  read_expected_value(plain, condition, draft.problems);
  if (draft.problems.size() != before) return;
  if (condition.a != std::floor(condition.a) || condition.b != std::floor(condition.b))
    complain(draft.problems, entry.place, label_of(entry) + "expected whole numbers");
}

/// "10 per min": takes the window off; false after a complaint. All values of a node have the same.
bool take_window(Node& node, std::optional<Duration>& window, ScenarioDraft& draft) {
  bool good = true;
  for (auto& item : node.items) good = take_window(item, window, draft) && good;
  for (auto& entry : node.entries) good = take_window(entry, window, draft) && good;
  if (node.kind != Node::Kind::scalar) return good;
  static constexpr Choice<Duration> kWindows[] = {{" per s", std::chrono::seconds{1}},
                                                  {" per min", std::chrono::minutes{1}},
                                                  {" per h", std::chrono::hours{1}}};
  for (const auto& [words, length] : kWindows) {
    if (!node.text.ends_with(words)) continue;
    if (window && *window != length) {
      complain(draft.problems, node.place, label_of(node) + "both ends have to be 'per' the same time");
      return false;
    }
    window = length;
    node.text.resize(node.text.size() - words.size());
    return true;
  }
  complain_kind(node, "a rate such as '10 per min', per s, per min or per h", draft.problems);
  return false;
}

void read_rate(const Node& entry, Conduct& conduct, Condition& condition, ScenarioDraft& draft) {
  Node plain = entry;
  std::optional<Duration> window;
  if (!take_window(plain, window, draft)) return;
  const auto before = draft.problems.size();
  read_count(plain, condition, draft);
  if (draft.problems.size() != before) return;
  check_comparator(entry, condition, {Comparator::at_most, Comparator::at_least, Comparator::between},
                   "'at_most', 'at_least' or 'between'", draft);
  conduct.window = window.value_or(Duration{});
}

void read_time(const Node& entry, Condition& condition, ScenarioDraft& draft) {
  condition.info.dimension = Dimension::time;
  const auto before = draft.problems.size();
  read_expected_value(entry, condition, draft.problems);
  if (draft.problems.size() != before ||
      !check_comparator(entry, condition,
                        {Comparator::at_most, Comparator::at_least, Comparator::between, Comparator::near,
                         Comparator::above, Comparator::below},
                        "a comparator such as { at_most: 2.5 s }", draft))
    return;
  if (condition.a <= 0.0) complain(draft.problems, entry.place, label_of(entry) + "expected a time above 0");
}

/// Codes of MODBUS Application Protocol V1.1b3, section 7, as bits.
std::optional<double> read_codes(const Node& node, ScenarioDraft& draft) {
  static const std::vector<std::string> kCodes{"01", "02", "03", "04", "05", "06", "08", "0A", "0B"};
  std::uint32_t bits = 0;
  for (const auto* item : read_list(&node, draft.problems)) {
    std::string text = item->text;
    std::transform(text.begin(), text.end(), text.begin(),
                   [](char c) { return c >= 'a' && c <= 'f' ? static_cast<char>(c - 'a' + 'A') : c; });
    if (text.starts_with("0x")) text = text.substr(2);
    if (text.size() == 1) text = "0" + text;
    if (std::find(kCodes.begin(), kCodes.end(), text) == kCodes.end()) {
      complain(draft.problems, item->place,
               label_of(node) + "'" + item->text + "' is no exception code; known: " + listed(kCodes));
      return std::nullopt;
    }
    bits |= std::uint32_t{1} << static_cast<unsigned>(std::stoi(text, nullptr, 16));
  }
  return bits == 0 ? std::nullopt : std::optional<double>(bits);
}

void read_exceptions(const Node& entry, Condition& condition, ScenarioDraft& draft) {
  if (entry.kind == Node::Kind::scalar && entry.text == "none") return;  // as many as 0
  const auto* include = entry.find("include");
  const auto* exclude = entry.find("exclude");
  if (include == nullptr && exclude == nullptr) return read_count(entry, condition, draft);
  if (entry.entries.size() != 1)
    return complain(draft.problems, entry.entries[1].header,
                    label_of(entry) + "one comparator, found '" + entry.entries[0].label + "' and '" +
                        entry.entries[1].label + "'");
  condition.comparator = include != nullptr ? Comparator::include : Comparator::exclude;
  if (const auto bits = read_codes(include != nullptr ? *include : *exclude, draft)) condition.a = *bits;
}

/// What is expected of the point or slave that `entry` names.
void read_value(const Node& entry, Conduct& conduct, const bench::SignalId& signal, ScenarioDraft& draft) {
  Condition condition;
  condition.name = entry.label;
  switch (conduct.kind) {
    case ConductKind::write_count:
    case ConductKind::retries:
      read_count(entry, condition, draft);
      break;
    case ConductKind::write_rate:
      read_rate(entry, conduct, condition, draft);
      break;
    case ConductKind::poll_period:
    case ConductKind::silence:
      read_time(entry, condition, draft);
      break;
    case ConductKind::exceptions:
      read_exceptions(entry, condition, draft);
      break;
    default:
      condition.signal = signal;
      condition.info = bench::signal_info(draft.spec.bench, signal);
      read_expected_value(entry, condition, draft.problems);
      break;
  }
  conduct.condition = std::move(condition);
}

void read_other(const Node& node, const Node& entry, Conduct& conduct, ScenarioDraft& draft) {
  if (!read_text(&entry, conduct.other_name, draft.problems)) return;
  const auto other = find_point(conduct.other_name, node, entry.place, false, true, draft);
  if (!other) return;
  conduct.other_index = other->index;
  conduct.other_point = static_cast<registers::Point>(other->sub);
}

}  // namespace

const std::vector<std::string>& conduct_words() {
  static const auto words = [] {
    std::vector<std::string> all;
    all.reserve(kKinds.size());
    for (const auto& kind : kKinds) all.emplace_back(kind.word);
    return all;
  }();
  return words;
}

std::optional<Conduct> read_conduct(std::string_view kind_word, const Node& node, ScenarioDraft& draft) {
  const auto* known = std::find_if(kKinds.begin(), kKinds.end(),
                                   [&](const KindWord& kind) { return kind.word == kind_word; });
  if (known == kKinds.end() || node.kind == Node::Kind::refused) return std::nullopt;
  Conduct conduct;
  conduct.kind = known->kind;
  const bool bare = conduct.kind == ConductKind::no_write;
  const bool fits =
      bare ? node.kind == Node::Kind::scalar : node.kind == Node::Kind::mapping && node.entries.size() == 1;
  const bool of_slave = conduct.kind == ConductKind::silence || conduct.kind == ConductKind::retries ||
                        conduct.kind == ConductKind::exceptions;
  if (!fits && !bare && node.kind == Node::Kind::mapping && node.entries.size() > 1) {
    complain(draft.problems, node.entries[1].header,
             label_of(node) +
                 (!of_slave                              ? "one point"
                  : conduct.kind == ConductKind::silence ? "one unit, io-block or line"
                                                         : "one unit or io-block") +
                 " at a time, found " + std::to_string(node.entries.size()));
    return std::nullopt;
  }
  if (!fits) {
    complain_kind(node, known->example, draft.problems);
    return std::nullopt;
  }
  if (!draft.bench_known) return std::nullopt;
  const auto before = draft.problems.size();
  const Node& entry = bare ? node : node.entries.front();
  conduct.name = bare ? node.text : entry.label;
  conduct.one_of_several = draft.spec.masters.size() > 1;
  bench::SignalId signal;
  if (of_slave) {
    if (!find_slave(entry, conduct, draft)) return std::nullopt;
  } else {
    const bool read = conduct.kind == ConductKind::poll_period || conduct.kind == ConductKind::read_back;
    const auto found = find_point(conduct.name, node, bare ? node.place : entry.header,
                                  is_about_writes(conduct.kind), read, draft);
    if (!found) return std::nullopt;
    signal = *found;
    conduct.index = signal.index;
    conduct.point = static_cast<registers::Point>(signal.sub);
  }
  if (conduct.kind == ConductKind::read_back) {
    read_duration(&entry, Bound::positive, conduct.window, draft.problems);
  } else if (conduct.kind == ConductKind::read_before_write) {
    read_other(node, entry, conduct, draft);
  } else if (!bare) {
    read_value(entry, conduct, signal, draft);
  }
  return draft.problems.size() == before ? std::optional(std::move(conduct)) : std::nullopt;
}

}  // namespace emberline::io

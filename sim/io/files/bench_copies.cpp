// `copies` of lines, zones and units: a plant of many units alike is written once.
#include <algorithm>
#include <string>
#include <utility>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

constexpr WholeNumber kCopies{1, 10'000};
constexpr int kHighestId = 247;
constexpr int kHighestPort = 65535;

std::string copy_name(const std::string& name, int number) { return name + "-" + std::to_string(number); }

/// How the copies of a unit lie on its lines: so many on each copy of a line, one after the other.
struct Spread {
  int lines = 1;
  int on_each = 1;
};

/// False where no id could be read, which has been complained about.
bool has_id(const Node& node, const bench::UnitEntry& entry) {
  const Node* id = node.find("id");
  return id != nullptr &&
         (entry.unit.id != bench::UnitEntry{}.unit.id || id->text == std::to_string(entry.unit.id));
}

/// Nothing after a complaint.
std::optional<Spread> spread_of(const Node& node, const bench::UnitEntry& entry, int copies,
                                BenchDraft& draft) {
  std::optional<int> lines;
  for (const auto& name : entry.unit.lines) {
    const auto there = draft.names.copies("lines", name);
    if (!there) continue;
    if (lines && *lines != *there) {
      complain(draft.problems, node.find("lines")->place,
               "lines: '" + name + "' is there " + std::to_string(*there) + " times, another one " +
                   std::to_string(*lines) + " times; expected as many copies of each");
      return std::nullopt;
    }
    lines = there;
  }
  Spread spread;
  spread.lines = lines.value_or(1);
  spread.on_each = (copies + spread.lines - 1) / spread.lines;
  const int last = entry.unit.id + spread.on_each - 1;
  if (last <= kHighestId || !has_id(node, entry)) return spread;
  complain(draft.problems, node.find("id")->place,
           "id: " + std::to_string(spread.on_each) + " copies a line from " + std::to_string(entry.unit.id) +
               " on end at " + std::to_string(last) + ", expected " + std::to_string(kHighestId) +
               " at most: put them on more lines ('copies' of a line)");
  return std::nullopt;
}

/// One of the copies; `index` counts from 0.
bench::UnitEntry copy_of(const bench::UnitEntry& entry, int index, const Spread& spread,
                         const BenchNames& names) {
  bench::UnitEntry copy = entry;
  copy.unit.name = copy_name(entry.unit.name, index + 1);
  copy.unit.id = entry.unit.id + index % spread.on_each;
  for (auto* lines : {&copy.unit.lines, &copy.unit.comms_loss.lines})
    for (auto& name : *lines)
      if (names.copies("lines", name)) name = copy_name(name, index / spread.on_each + 1);
  if (copy.heats && names.copies("zones", *copy.heats)) copy.heats = copy_name(*copy.heats, index + 1);
  return copy;
}

}  // namespace

std::optional<int> copies_of(const Node& entry) {
  Problems unheard;  // complained about where the entry is read
  std::optional<int> copies;
  if (const auto* node = entry.find("copies")) read_whole(node, kCopies, copies, unheard);
  return copies;
}

std::optional<int> read_copies(const Node* node, Problems& problems) {
  std::optional<int> copies;
  read_whole(node, kCopies, copies, problems);
  return copies;
}

void add_copies(const Node& node, const bench::LineSpec& line, int copies, BenchDraft& draft) {
  if (line.kind == bench::LineKind::serial_port) {
    complain(draft.problems, node.find("copies")->place, "copies: a serial port is there once");
    return;
  }
  if (line.port != 0 && line.port + copies - 1 > kHighestPort) {
    complain(draft.problems, node.find("copies")->place,
             "copies: " + std::to_string(copies) + " ports from " + std::to_string(line.port) +
                 " on end at " + std::to_string(line.port + copies - 1) + ", expected " +
                 std::to_string(kHighestPort) + " at most");
    return;
  }
  const auto before = draft.problems.size();
  for (int index = 0; index < copies; ++index) {
    bench::LineSpec copy = line;
    copy.name = copy_name(line.name, index + 1);
    if (!line.path.empty()) copy.path = copy_name(line.path, index + 1);
    if (line.port != 0) copy.port = static_cast<std::uint16_t>(line.port + index);
    // One place that is taken is enough to be told.
    if (draft.problems.size() == before) check_place(node, copy, draft);
    draft.spec.lines.push_back(std::move(copy));
  }
}

void add_copies(const bench::ZoneSpec& zone, int copies, BenchDraft& draft) {
  const auto element = draft.zone_elements.find(zone.name);
  for (int number = 1; number <= copies; ++number) {
    bench::ZoneSpec copy = zone;
    copy.name = copy_name(zone.name, number);
    if (element != draft.zone_elements.end()) draft.zone_elements[copy.name] = element->second;
    draft.spec.zones.push_back(std::move(copy));
  }
}

void add_copies(const Node& node, const bench::UnitEntry& entry, int copies, BenchDraft& draft) {
  const auto spread = spread_of(node, entry, copies, draft);
  const bool firing_known = draft.firing_known.contains(entry.unit.name);
  bool ids_are_free = spread.has_value() && has_id(node, entry);
  for (int index = 0; index < copies; ++index) {
    auto copy = copy_of(entry, index, spread.value_or(Spread{1, copies}), draft.names);
    if (firing_known) draft.firing_known.insert(copy.unit.name);
    if (ids_are_free) {
      const auto before = draft.problems.size();
      claim_id(node.find("id"), copy.unit.id, copy.unit.name, copy.unit.lines, draft);
      ids_are_free = draft.problems.size() == before;
    }
    draft.spec.units.push_back(std::move(copy));
  }
}

}  // namespace emberline::io

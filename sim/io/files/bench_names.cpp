#include "sim/io/files/bench_names.hpp"

#include <algorithm>
#include <array>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

struct Section {
  std::string_view key;
  std::string_view kind;  ///< in messages: "unknown line ..."
};
/// Sections whose entries may have copies.
constexpr std::array<std::string_view, 3> kWithCopies{"lines", "zones", "units"};
constexpr std::array kSections{Section{"lines", "line"}, Section{"contactors", "contactor"},
                               Section{"zones", "zone"}, Section{"units", "unit"},
                               Section{"io_blocks", "io-block"}};

std::string_view kind_of_section(std::string_view section) {
  const auto found = std::find_if(kSections.begin(), kSections.end(),
                                  [&](const Section& candidate) { return candidate.key == section; });
  return found == kSections.end() ? section : found->kind;
}

bool is_forbidden(char c) {
  return static_cast<unsigned char>(c) <= 0x20U ||
         std::string_view(".,:;/\\'\"{}[]#&*!|>%@`=").find(c) != std::string_view::npos;
}

}  // namespace

void BenchNames::declare_all(const Node& root, Problems& problems) {
  for (const auto& section : kSections) {
    auto& names = sections_[std::string(section.key)];
    const auto* node = root.find(section.key);
    if (node == nullptr || node->kind != Node::Kind::mapping) continue;
    const bool may_have = std::find(kWithCopies.begin(), kWithCopies.end(), section.key) != kWithCopies.end();
    for (const auto& entry : node->entries) {
      const bool usable = declare(section.kind, entry, problems);
      const auto copies = may_have ? copies_of(entry) : std::nullopt;
      if (!copies) {
        names.push_back(entry.label);
        continue;
      }
      copies_[std::string(section.key)][entry.label] = *copies;
      for (int number = 1; number <= *copies; ++number) {
        names.push_back(entry.label + "-" + std::to_string(number));
        if (usable) declare(section.kind, names.back(), entry.header, problems);
      }
    }
  }
}

void BenchNames::declare_all(const bench::BenchSpec& spec) {
  const auto take = [&](std::string_view section, const std::string& name) {
    sections_[std::string(section)].push_back(name);
    taken_.try_emplace(name, Taken{std::string(kind_of_section(section)), 0});
  };
  for (const auto& line : spec.lines) take("lines", line.name);
  for (const auto& contactor : spec.contactors) take("contactors", contactor.name);
  for (const auto& zone : spec.zones) take("zones", zone.name);
  for (const auto& entry : spec.units) take("units", entry.unit.name);
  for (const auto& block : spec.io_blocks) take("io_blocks", block.name);
}

bool BenchNames::declare(std::string_view kind, const Node& named, Problems& problems) {
  return declare(kind, named.label, named.header, problems);
}

bool BenchNames::declare(std::string_view kind, const std::string& name, const Place& place,
                         Problems& problems) {
  if (std::any_of(name.begin(), name.end(), is_forbidden)) {
    complain(
        problems, place,
        "'" + name + "' cannot be a name: expected letters, digits, '-' and '_', for instance 'soak-heater'");
    return false;
  }
  if (name == "supply") {
    complain(problems, place, "'supply' is the name of the supply itself: choose another one");
    return false;
  }
  const auto [first, is_new] = taken_.try_emplace(name, Taken{std::string(kind), place.line});
  if (is_new) return true;
  const auto& [taken_by, line] = first->second;
  complain(problems, place,
           "name '" + name + "' is taken by a" + (taken_by.starts_with('i') ? "n " : " ") + taken_by +
               (line > 0 ? " on line " + std::to_string(line) : " of the bench") +
               ": lines, contactors, zones, units, io-blocks and stand-ins need different names");
  return false;
}

const std::vector<std::string>& BenchNames::of(std::string_view section) const {
  static const std::vector<std::string> kNone;
  const auto found = sections_.find(section);
  return found == sections_.end() ? kNone : found->second;
}

std::optional<int> BenchNames::copies(std::string_view section, std::string_view name) const {
  const auto of_section = copies_.find(section);
  if (of_section == copies_.end()) return std::nullopt;
  const auto found = of_section->second.find(name);
  return found == of_section->second.end() ? std::nullopt : std::optional(found->second);
}

std::vector<std::string> BenchNames::meant_by(const Node& reference, std::string_view section,
                                              Problems& problems) const {
  std::vector<std::string> meant;
  if (const auto count = copies(section, reference.text)) {
    for (int number = 1; number <= *count; ++number)
      meant.push_back(reference.text + "-" + std::to_string(number));
  } else if (check(reference, section, problems)) {
    meant.push_back(reference.text);
  }
  return meant;
}

bool BenchNames::check(const Node& reference, std::string_view section, Problems& problems) const {
  const auto known = taken_.find(reference.text);
  const auto kind = kind_of_section(section);
  const auto& names = of(section);
  if (known != taken_.end() && known->second.kind == kind && !copies(section, reference.text)) return true;
  if (std::find(names.begin(), names.end(), reference.text) != names.end()) return true;
  complain(problems, reference.place, label_of(reference) + unknown(kind, reference.text, names));
  return false;
}

}  // namespace emberline::io

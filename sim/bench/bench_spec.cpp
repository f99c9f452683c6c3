#include "sim/bench/bench_spec.hpp"

#include <algorithm>

namespace emberline::bench {
namespace {

template <class List, class NameOf>
std::optional<std::size_t> find_in(const List& list, std::string_view name, NameOf name_of) {
  for (std::size_t i = 0; i < list.size(); ++i)
    if (name_of(list[i]) == name) return i;
  return std::nullopt;
}

constexpr auto kName = [](const auto& item) -> std::string_view { return item.name; };

}  // namespace

std::string_view to_word(LineKind kind) {
  switch (kind) {
    case LineKind::pty:
      return "pty";
    case LineKind::serial_port:
      return "serial-port";
    case LineKind::tcp:
      return "tcp";
    case LineKind::rtu_tcp:
      return "rtu-tcp";
  }
  return "";
}

std::optional<std::size_t> BenchSpec::find_line(std::string_view name) const {
  return find_in(lines, name, kName);
}
std::optional<std::size_t> BenchSpec::find_contactor(std::string_view name) const {
  return find_in(contactors, name, kName);
}
std::optional<std::size_t> BenchSpec::find_zone(std::string_view name) const {
  return find_in(zones, name, kName);
}
std::optional<std::size_t> BenchSpec::find_unit(std::string_view name) const {
  return find_in(units, name, [](const UnitEntry& entry) -> std::string_view { return entry.unit.name; });
}
std::optional<std::size_t> BenchSpec::find_io_block(std::string_view name) const {
  return find_in(io_blocks, name, kName);
}

std::vector<SlaveOnLine> BenchSpec::slaves_on(std::size_t line) const {
  const std::string& name = lines.at(line).name;
  const auto on_it = [&name](const std::vector<std::string>& of_slave) {
    return std::find(of_slave.begin(), of_slave.end(), name) != of_slave.end();
  };
  std::vector<SlaveOnLine> found;
  for (std::size_t u = 0; u < units.size(); ++u)
    if (on_it(units[u].unit.lines)) found.push_back({units[u].unit.name, units[u].unit.id, u});
  for (const auto& block : io_blocks)
    if (on_it(block.lines)) found.push_back({block.name, block.id, std::nullopt});
  return found;
}

std::optional<SlaveOnLine> BenchSpec::slave_on(std::size_t line, int id) const {
  const auto all = slaves_on(line);
  for (const auto& slave : all)
    if (slave.id == id) return slave;
  constexpr int kDirect = 255;
  const bool direct = !carries_rtu(lines.at(line).kind) && (id == 0 || id == kDirect);
  return direct && all.size() == 1 ? std::optional(all.front()) : std::nullopt;
}

}  // namespace emberline::bench

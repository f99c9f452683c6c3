#include "sim/bench/bench_spec.hpp"

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

}  // namespace emberline::bench

#include "sim/rehearsal/conduct_slave.hpp"

namespace emberline::rehearsal {

Slave::Slave(const bench::BenchSpec& bench, const std::string& name, const std::vector<std::string>& lines)
    : name_(name), lines_(bench.lines.size()) {
  for (const auto& line : lines) {
    const auto index = bench.find_line(line);
    if (!index) continue;
    lines_[*index].has_broadcasts = bench::carries_rtu(bench.lines[*index].kind);
    for (std::size_t id = 0; id < lines_[*index].ids.size(); ++id) {
      const auto asked = bench.slave_on(*index, static_cast<int>(id));
      lines_[*index].ids[id] = asked && asked->name == name;
    }
  }
}

Slave slave_of_unit(const bench::BenchSpec& bench, std::size_t unit) {
  const auto& spec = bench.units[unit].unit;
  return {bench, spec.name, spec.lines};
}

Slave slave_of_io_block(const bench::BenchSpec& bench, std::size_t block) {
  const auto& spec = bench.io_blocks[block];
  return {bench, spec.name, spec.lines};
}

}  // namespace emberline::rehearsal

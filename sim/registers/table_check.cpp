// What is wrong with a table: with its rows one by one, and with one row upon another.
#include "sim/registers/table_check.hpp"

#include <algorithm>
#include <string>

#include "sim/registers/row_check.hpp"
#include "sim/registers/row_overlap.hpp"

namespace emberline::registers {
namespace {

using modbus::Table;

constexpr std::size_t kMostOverlapsTold = 50;  // more help nobody

std::string line_of(const Row& row) {
  return row.place.line > 0 ? ", line " + std::to_string(row.place.line) : "";
}

/// Each row that cannot stand beside an earlier one is told once, with the first such.
void check_overlaps(const std::vector<Row>& rows, std::vector<Diagnostic>& problems) {
  if (rows.size() < 2) return;
  TakenRegisters taken;
  std::size_t found = 0;
  Place last;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto conflict = taken.conflict_of(rows[i]);
    taken.add(rows[i], i);
    if (!conflict) continue;
    last = rows[i].place;
    if (++found > kMostOverlapsTold) continue;
    const auto& other = rows[conflict->row];
    problems.push_back({last, described(rows[i]) + " " + told(*conflict, other, line_of(other))});
  }
  if (found > kMostOverlapsTold)
    problems.push_back({last, "and " + std::to_string(found - kMostOverlapsTold) +
                                  " more rows up to here that overlap others"});
}

}  // namespace

std::pair<double, double> carried_range(const Layout& layout) {
  const double scale = layout.type == Type::bit ? 1.0 : layout.scale;
  return std::minmax({lowest(layout) * scale, highest(layout) * scale});
}

std::vector<Diagnostic> problems_of(const TableParts& parts) {
  std::vector<Diagnostic> problems;
  for (const auto& row : parts.rows) {
    check_row(row, problems);
    if (parts.input_same_as_holding && row.table == Table::input_registers)
      problems.push_back({row.place,
                          "input registers that are the same as holding leave no place for rows "
                          "of their own, found " +
                              std::string(name_of(row))});
  }
  check_overlaps(parts.rows, problems);
  return problems;
}

}  // namespace emberline::registers

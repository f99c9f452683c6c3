// What is wrong with a table: with its rows one by one, and with one row upon another.
#include "sim/registers/table_check.hpp"

#include <algorithm>
#include <string>
#include <tuple>

#include "sim/registers/row_check.hpp"

namespace emberline::registers {
namespace {

using modbus::Table;

bool overlap(const Row& a, const Row& b) {
  if (a.table != b.table) return false;
  const bool apart =
      a.address + register_count(a.layout) <= b.address || b.address + register_count(b.layout) <= a.address;
  if (apart) return false;
  return !shares_register(a) || !shares_register(b) || (own_bits(a) & own_bits(b)) != 0;
}

/// Rows that would place the bits of one register differently.
bool at_odds(const Row& a, const Row& b) {
  return a.table == b.table && a.address == b.address && shares_register(a) && shares_register(b) &&
         a.layout.byte_order != b.layout.byte_order;
}

std::string line_of(const Row& row) {
  return row.place.line > 0 ? ", line " + std::to_string(row.place.line) : "";
}

void check_overlaps(const std::vector<Row>& rows, std::vector<Diagnostic>& problems) {
  // Sorted by address, only the next few rows can reach into one; a whole table against itself would be
  // slow for the largest ones.
  std::vector<std::size_t> order(rows.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::sort(order.begin(), order.end(), [&rows](std::size_t a, std::size_t b) {
    const auto key = [&rows](std::size_t i) { return std::tuple(rows[i].table, rows[i].address, i); };
    return key(a) < key(b);
  });
  std::vector<std::pair<std::size_t, std::size_t>> pairs;  // the later row in the file, the earlier one
  for (std::size_t i = 0; i < order.size(); ++i) {
    const Row& row = rows[order[i]];
    for (std::size_t j = i + 1; j < order.size(); ++j) {
      const Row& next = rows[order[j]];
      if (next.table != row.table || next.address >= row.address + register_count(row.layout)) break;
      if (overlap(row, next) || at_odds(row, next))
        pairs.emplace_back(std::max(order[i], order[j]), std::min(order[i], order[j]));
    }
  }
  std::sort(pairs.begin(), pairs.end());
  for (const auto& [later, earlier] : pairs) {
    const bool overlaps = overlap(rows[earlier], rows[later]);
    problems.push_back({rows[later].place, described(rows[later]) +
                                               (overlaps ? " overlaps " : " has another byte order than ") +
                                               described(rows[earlier]) + line_of(rows[earlier]) +
                                               (overlaps ? "" : ", with which it shares the register")});
  }
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

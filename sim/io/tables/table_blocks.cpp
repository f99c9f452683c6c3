#include "sim/io/tables/table_blocks.hpp"

#include "sim/io/tables/table_notes.hpp"
#include "sim/rehearsal/block_plan.hpp"

namespace emberline::io {

std::vector<TableBlock> block_reads(const registers::RegisterTable& table, int largest_block) {
  const bool one_is_enough = input_is_holding(table);
  std::vector<rehearsal::Target> targets;
  for (const auto kind : listing_order()) {
    if (one_is_enough && kind == modbus::Table::input_registers) continue;
    for (const auto& row : table.rows()) {
      if (row.table != kind || row.access == registers::Access::write_only) continue;
      rehearsal::Target target;
      target.row = row;
      target.largest_block = largest_block;
      targets.push_back(std::move(target));
    }
  }
  std::vector<TableBlock> blocks;
  for (const auto& block : rehearsal::plan_blocks(targets))
    blocks.push_back({targets[block.lead].row.table, block.range});
  return blocks;
}

}  // namespace emberline::io

#pragma once

#include <vector>

#include "sim/modbus/pdu.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// One read request of a table.
struct TableBlock {
  modbus::Table table;
  modbus::AddressRange range;
};

/// The block reads that bring everything readable of a table, merged as a stand-in merges them
/// (rehearsal/block_plan.hpp): no unmapped address is read, and no value is cut. `largest_block`: registers
/// that the unit takes in one read; 0: as many as the protocol carries. Input registers that are the same as
/// holding are not read twice.
[[nodiscard]] std::vector<TableBlock> block_reads(const registers::RegisterTable& table, int largest_block);

}  // namespace emberline::io

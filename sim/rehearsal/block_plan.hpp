#pragma once

#include <cstddef>
#include <vector>

#include "sim/modbus/pdu.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::rehearsal {

/// One read request that brings one or several targets.
struct BlockRead {
  std::size_t lead =
      0;  ///< index of the first target of the step that is in it: slave, lines and table are its
  modbus::AddressRange range{};
};

/// Merges the targets of one read step into block reads. Targets of the same slave and table whose addresses
/// touch or overlap share a request; addresses nobody asked for are never read. A block stays within what the
/// slave takes (largest_block; a bit counts a sixteenth of a register) and what a PDU carries: 125 registers
/// or 2000 bits (MODBUS Application Protocol V1.1b3, 6.1 to 6.4). A value of two registers is never cut: one
/// that alone is longer than largest_block is asked for whole, and the slave may refuse it. Blocks come in
/// the order in which their first targets stand in the step.
[[nodiscard]] std::vector<BlockRead> plan_blocks(const std::vector<Target>& targets);

}  // namespace emberline::rehearsal

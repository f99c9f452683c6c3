#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/base/result.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/bench/signal.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::rehearsal {

/// Where a stand-in finds a signal on the wire: a row of a unit's register table, or a coil, discrete input
/// or input register of an io-block.
struct Target {
  std::string name;  ///< as the user wrote it: "soak-heater.setpoint", "marshalling.coil.0", "soak.measured"
  bool io_block = false;  ///< whose index `slave` is: io-block or unit
  std::size_t slave = 0;
  int id = 1;                      ///< unit id of that slave
  std::vector<std::string> lines;  ///< lines the slave is on
  registers::Row row;  ///< table, address, layout, renumbering (io-blocks: a row made from their wiring)
  int largest_block =
      0;  ///< registers the slave takes in one read; 0: no limit of its own (125 registers, 2000 bits)
  bench::SignalInfo info;    ///< how values are written; of text nothing
  std::string slave_name{};  ///< of that io-block or unit, for messages: "soak-heater", "marshalling"
};

/// Where a master finds what a unit says of itself: UNIT.TEXT, such as "soak-heater.product_code", for
/// reading only. Nothing if the name is none of such a text; the error says what is wrong with one that is.
[[nodiscard]] std::optional<Result<Target, std::string>> resolve_text(const bench::BenchSpec& spec,
                                                                      std::string_view name,
                                                                      bool for_writing);

/// Resolves a name: UNIT.POINT by the unit's register table, IOBLOCK.coil.N (.discrete.N, .input.N), or any
/// other signal that an io-block carries (discrete first, then input), first io-block of the file first. The
/// error names what is missing: not a signal at all (with the nearest one), not in the register table, not
/// writable, not carried by an io-block, text (which resolve_text finds).
[[nodiscard]] Result<Target, std::string> resolve_target(const bench::BenchSpec& spec, std::string_view name,
                                                         bool for_writing);

}  // namespace emberline::rehearsal

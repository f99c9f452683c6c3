#pragma once

#include <cstddef>
#include <functional>
#include <optional>

#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::polling {

/// Whether a slave answers a read of [first, first + count) of one of its tables with data, whatever its
/// state: what RegisterTable and the io-block say of unmapped addresses (write-only rows are unmapped to a
/// reader) and of halves of values. `bench` must outlive what is returned.
[[nodiscard]] std::function<bool(int first, int count)> readable_in(const bench::BenchSpec& bench,
                                                                    bool io_block, std::size_t slave,
                                                                    modbus::Table table);
/// Registers or bits one read of that table may ask for: what a PDU carries (MODBUS Application Protocol
/// V1.1b3, 6.1 to 6.4: 125 registers, 2000 bits), or less where the unit's intake takes less. A bit counts a
/// sixteenth of a register there.
[[nodiscard]] int longest_read(const bench::BenchSpec& bench, bool io_block, std::size_t slave,
                               modbus::Table table);
/// Reads the slave takes in a sliding second; nothing: as many as come.
[[nodiscard]] std::optional<int> reads_per_second(const bench::BenchSpec& bench, bool io_block,
                                                  std::size_t slave);
/// Time it needs before it begins to answer.
[[nodiscard]] Duration turnaround_of(const bench::BenchSpec& bench, bool io_block, std::size_t slave);

}  // namespace emberline::polling

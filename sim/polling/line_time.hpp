#pragma once

#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::polling {

/// How long one exchange keeps the line and the master busy.
///
/// RTU (MODBUS over Serial Line V1.02, 2.5.1): 11 bits a character;
///   whole = request + turnaround + t3.5 + answer + t3.5 + the master's pause
/// with request = 8 characters for a read, answer = 5 + 2 x registers or 5 + bits / 8 (rounded up)
/// characters. TCP: 0.2 ms each way and the turnaround: whole = 0.2 ms + turnaround + 0.2 ms + pause.
struct Exchange {
  Duration request{};  ///< from the first byte until the slave has the last one and takes the request up
  Duration answer{};   ///< from there until the master has the last byte of the answer
  Duration whole{};    ///< until the master's next request may begin
};

/// A read (01 to 04) of so many registers or bits.
[[nodiscard]] Exchange read_exchange(const bench::LineSpec& line, Duration turnaround, Duration pause,
                                     modbus::Table table, int count);
/// A write of one value: 05 of a bit, 06 of one register, 10 (hex) of more.
[[nodiscard]] Exchange write_exchange(const bench::LineSpec& line, Duration turnaround, Duration pause,
                                      modbus::Table table, int count);

}  // namespace emberline::polling

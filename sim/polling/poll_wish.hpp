#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::polling {

/// A value the master wants to have, or to write, again and again.
struct Wanted {
  std::string name;       ///< as the user wrote it: "soak-heater.load_power", "marshalling.coil.0"
  bool io_block = false;  ///< whose index `slave` is: io-block or unit of the bench
  std::size_t slave = 0;
  modbus::Table table = modbus::Table::holding_registers;
  std::uint16_t address = 0;  ///< of its first register or bit, zero-based
  int count = 1;              ///< registers or bits it takes
  Duration every{};           ///< how often, at least; more than 0
  Place place{};              ///< where that stands in the file, for messages
};

/// How the master goes about it.
struct MasterTiming {
  Duration timeout = std::chrono::milliseconds{500};  ///< from the first byte sent until it gives a try up
  int retries = 0;                                    ///< further tries after the first
  Duration retry_after{};                             ///< pause before each of them
  Duration pause{};  ///< from an answer (and the silence the line needs) to its next request
  std::optional<Duration> poll_lost_every;  ///< a slave that does not answer is asked no more often
};

/// What a master wants to know of the slaves of one line, and to tell them. One request is under way at a
/// time.
struct PollWish {
  std::string title;
  std::shared_ptr<const bench::BenchSpec> bench;
  std::string bench_file;  ///< as opened
  std::size_t line = 0;    ///< of the bench
  MasterTiming master;
  std::vector<Wanted> reads;   ///< in the order of the file
  std::vector<Wanted> writes;  ///< each asked by itself, function code 05, 06 or 10 (hex)
};

}  // namespace emberline::polling

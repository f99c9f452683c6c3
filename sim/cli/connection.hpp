#pragma once

#include <memory>
#include <optional>
#include <string>

#include "sim/base/result.hpp"
#include "sim/cli/commands.hpp"
#include "sim/io/master/client.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::cli {

/// Where `read` and `write` find their unit, and what is known about it.
struct Connection {
  io::LineAddress line;
  std::string line_name;  ///< of the bench, or as given
  int id = 1;
  std::string unit;  ///< of the bench, or empty
  std::optional<bench::BenchSpec> bench;
  std::shared_ptr<const registers::RegisterTable> table;  ///< with --registers
};

/// Loads the bench or the register table and finds line and unit. What is wrong is complained about here.
[[nodiscard]] std::optional<Connection> find_connection(const MasterOptions& options);

/// Where a point stands on the wire. The error says what is missing and what is near.
[[nodiscard]] Result<rehearsal::Target, std::string> find_target(const Connection& connection,
                                                                 const std::string& name, bool for_writing);

/// Reads a time for a flag, 1 ms to 1 h.
[[nodiscard]] Result<Duration, std::string> parse_time(const std::string& flag, const std::string& text);

/// Complains about a request that failed and gives the exit status that goes with it: a refusal means that
/// what was asked for cannot be had that way, silence that the surroundings are not there.
[[nodiscard]] int exit_code_of(const io::Client::Failure& failure);

}  // namespace emberline::cli

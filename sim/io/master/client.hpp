#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/io/master/wall_masters.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::io {

/// A plain master on one line, by libmodbus: for the read and write commands.
class Client {
 public:
  /// Opens the line; the error is one line: what could not be opened and why.
  [[nodiscard]] static Result<std::unique_ptr<Client>, std::string> open(const LineAddress& line,
                                                                         Duration timeout);
  ~Client();
  Client(const Client&) = delete;
  Client& operator=(const Client&) = delete;

  /// A request that failed: the slave's refusal, or in words why there was no answer.
  struct Failure {
    std::optional<modbus::Refusal> refusal;
    std::string sentence;  ///< "no answer from unit 3 within 500 ms", "refused: illegal data address (02)"
  };
  [[nodiscard]] Result<std::vector<std::uint16_t>, Failure> read_registers(int id, modbus::Table table,
                                                                           modbus::AddressRange range);
  [[nodiscard]] Result<std::vector<bool>, Failure> read_bits(int id, modbus::Table table,
                                                             modbus::AddressRange range);
  [[nodiscard]] Result<Done, Failure> write_registers(int id, std::uint16_t first,
                                                      const std::vector<std::uint16_t>& values);
  [[nodiscard]] Result<Done, Failure> write_bits(int id, std::uint16_t first,
                                                 const std::vector<bool>& values);

 private:
  Client();
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::io

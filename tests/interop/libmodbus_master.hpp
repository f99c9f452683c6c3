#pragma once

#include <cerrno>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <modbus.h>

namespace emberline::test {

/// A master by libmodbus. Not for sharing between threads.
class LibmodbusMaster {
 public:
  static LibmodbusMaster pty(const std::string& path, int baud = 19200) {
    return LibmodbusMaster(modbus_new_rtu(path.c_str(), baud, 'E', 8, 1));
  }
  static LibmodbusMaster tcp(std::uint16_t port) {
    return LibmodbusMaster(modbus_new_tcp("127.0.0.1", port));
  }

  /// The setpoint's words, or nothing with errno as libmodbus sets it.
  std::optional<std::vector<std::uint16_t>> read_holding(int unit, int first, int count) {
    modbus_set_slave(modbus_.get(), unit);
    return words(count,
                 [&](std::uint16_t* to) { return modbus_read_registers(modbus_.get(), first, count, to); });
  }
  std::optional<std::vector<std::uint16_t>> read_input(int unit, int first, int count) {
    modbus_set_slave(modbus_.get(), unit);
    return words(count, [&](std::uint16_t* to) {
      return modbus_read_input_registers(modbus_.get(), first, count, to);
    });
  }
  bool write_one(int unit, int address, std::uint16_t value) {
    modbus_set_slave(modbus_.get(), unit);
    return modbus_write_register(modbus_.get(), address, value) == 1;
  }
  bool write(int unit, int first, const std::vector<std::uint16_t>& values) {
    modbus_set_slave(modbus_.get(), unit);
    const int count = static_cast<int>(values.size());
    return modbus_write_registers(modbus_.get(), first, count, values.data()) == count;
  }
  bool write_coil(int unit, int address, bool on) {
    modbus_set_slave(modbus_.get(), unit);
    return modbus_write_bit(modbus_.get(), address, on ? 1 : 0) == 1;
  }
  bool write_coils(int unit, int first, const std::vector<std::uint8_t>& on) {
    modbus_set_slave(modbus_.get(), unit);
    const int count = static_cast<int>(on.size());
    return modbus_write_bits(modbus_.get(), first, count, on.data()) == count;
  }
  std::optional<bool> read_coil(int unit, int address) {
    modbus_set_slave(modbus_.get(), unit);
    std::uint8_t bit = 0;
    return modbus_read_bits(modbus_.get(), address, 1, &bit) == 1 ? std::optional(bit != 0) : std::nullopt;
  }
  std::optional<bool> read_discrete(int unit, int address) {
    modbus_set_slave(modbus_.get(), unit);
    std::uint8_t bit = 0;
    return modbus_read_input_bits(modbus_.get(), address, 1, &bit) == 1 ? std::optional(bit != 0)
                                                                        : std::nullopt;
  }
  /// For what has no word here; the unit is `unit` from now on.
  modbus_t* asking(int unit) {
    modbus_set_slave(modbus_.get(), unit);
    return modbus_.get();
  }
  void be_patient(std::uint32_t seconds, std::uint32_t microseconds) {
    modbus_set_response_timeout(modbus_.get(), seconds, microseconds);
  }

 private:
  struct Free {
    void operator()(modbus_t* modbus) const {
      modbus_close(modbus);
      modbus_free(modbus);
    }
  };
  explicit LibmodbusMaster(modbus_t* modbus) : modbus_(modbus) {
    REQUIRE(modbus != nullptr);
    REQUIRE(modbus_connect(modbus) == 0);
    be_patient(60, 0);
    // Between the bytes of one answer too: the machine may be busy.
    modbus_set_byte_timeout(modbus, 60, 0);
  }
  template <class Read>
  std::optional<std::vector<std::uint16_t>> words(int count, Read read) {
    std::vector<std::uint16_t> values(static_cast<std::size_t>(count));
    return read(values.data()) == count ? std::optional(values) : std::nullopt;
  }

  std::unique_ptr<modbus_t, Free> modbus_;
};

}  // namespace emberline::test

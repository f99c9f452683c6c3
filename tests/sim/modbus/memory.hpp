#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::test {

/// A device with `size` addresses from 0 in each of its four tables, which counts how often it was changed.
class Memory : public modbus::DataModel {
 public:
  explicit Memory(std::size_t size) : size_(size) {
    for (auto& table : bits) table.resize(size);
    for (auto& table : words) table.resize(size);
  }

  Result<std::vector<bool>, modbus::Refusal> read_bits(modbus::Table table,
                                                       modbus::AddressRange range) override {
    return read(bits[static_cast<std::size_t>(table)], range);
  }
  Result<std::vector<std::uint16_t>, modbus::Refusal> read_registers(modbus::Table table,
                                                                     modbus::AddressRange range) override {
    return read(words[static_cast<std::size_t>(table)], range);
  }
  Result<Done, modbus::Refusal> write_bits(std::uint16_t first, const std::vector<bool>& values) override {
    return write(bits[static_cast<std::size_t>(modbus::Table::coils)], first, values);
  }
  Result<Done, modbus::Refusal> write_registers(std::uint16_t first,
                                                const std::vector<std::uint16_t>& values) override {
    return write(words[static_cast<std::size_t>(modbus::Table::holding_registers)], first, values);
  }

  std::array<std::vector<bool>, 4> bits;            // by modbus::Table; registers stay unused
  std::array<std::vector<std::uint16_t>, 4> words;  // by modbus::Table; bits stay unused
  int changes = 0;

 private:
  bool has(std::size_t first, std::size_t count) const { return first + count <= size_; }
  template <class Values>
  Result<Values, modbus::Refusal> read(const Values& table, modbus::AddressRange range) const {
    if (!has(range.first, range.count)) return Failure{modbus::Refusal::illegal_data_address};
    const auto begin = table.begin() + range.first;
    return Values(begin, begin + range.count);
  }
  template <class Values>
  Result<Done, modbus::Refusal> write(Values& table, std::size_t first, const Values& values) {
    if (!has(first, values.size())) return Failure{modbus::Refusal::illegal_data_address};
    ++changes;
    for (std::size_t i = 0; i < values.size(); ++i) table[first + i] = values[i];
    return Done{};
  }
  std::size_t size_;
};

}  // namespace emberline::test

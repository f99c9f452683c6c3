// Request PDUs to a memory of 300 addresses. An input is PDUs, each behind a byte with its length.
#include "sim/modbus/pdu.hpp"

#include <algorithm>
#include <array>
#include <vector>

#include "tests/fuzz/fuzz.hpp"

using namespace emberline;
using fuzz::must;

namespace {

constexpr std::size_t kAddresses = 300;

/// Addresses from 0 in each of the four tables, bits as 0 and 1; compares quickly.
class Memory final : public modbus::DataModel {
 public:
  Result<std::vector<bool>, modbus::Refusal> read_bits(modbus::Table table,
                                                       modbus::AddressRange range) override {
    return read<bool>(table, range);
  }
  Result<std::vector<std::uint16_t>, modbus::Refusal> read_registers(modbus::Table table,
                                                                     modbus::AddressRange range) override {
    return read<std::uint16_t>(table, range);
  }
  Result<Done, modbus::Refusal> write_bits(std::uint16_t first, const std::vector<bool>& values) override {
    return write(modbus::Table::coils, first, values);
  }
  Result<Done, modbus::Refusal> write_registers(std::uint16_t first,
                                                const std::vector<std::uint16_t>& values) override {
    return write(modbus::Table::holding_registers, first, values);
  }
  bool operator==(const Memory& other) const { return cells_ == other.cells_; }
  /// Puts addresses of all tables back to what they are in `other`.
  void restore(const Memory& other, std::size_t first, std::size_t count) {
    for (std::size_t table = 0; table < cells_.size(); ++table)
      for (std::size_t i = first; i < std::min(first + count, kAddresses); ++i)
        cells_[table][i] = other.cells_[table][i];
  }

 private:
  auto& cells(modbus::Table table) { return cells_[static_cast<std::size_t>(table)]; }
  template <class Value>
  Result<std::vector<Value>, modbus::Refusal> read(modbus::Table table, modbus::AddressRange range) {
    must(range.first + std::size_t{range.count} <= 0x10000, "no range runs past the last address");
    if (range.first + std::size_t{range.count} > kAddresses)
      return Failure{modbus::Refusal::illegal_data_address};
    const auto begin = cells(table).begin() + range.first;
    return std::vector<Value>(begin, begin + range.count);
  }
  template <class Value>
  Result<Done, modbus::Refusal> write(modbus::Table table, std::size_t first,
                                      const std::vector<Value>& values) {
    if (first + values.size() > kAddresses) return Failure{modbus::Refusal::illegal_data_address};
    std::copy(values.begin(), values.end(), cells(table).begin() + static_cast<std::ptrdiff_t>(first));
    return Done{};
  }
  std::array<std::array<std::uint16_t, kAddresses>, 4> cells_{};
};

std::size_t word(modbus::ByteView pdu, std::size_t index) {
  return pdu[index] * std::size_t{256} + pdu[index + 1];
}

/// What a write of these functions may touch (MODBUS Application Protocol V1.1b3, section 6).
void check_touched(modbus::ByteView pdu, const Memory& before, Memory after) {
  const unsigned function = pdu[0];
  const bool reads_too = function == 0x17;
  const bool single = function == 0x05 || function == 0x06 || function == 0x16;
  after.restore(before, word(pdu, reads_too ? 5 : 1), single ? 1 : word(pdu, reads_too ? 7 : 3));
  must(after == before, "a write touches its own addresses only");
}

/// Byte counts and echoes of the answers that carry data out of the memory or confirm a write.
void check_answer(modbus::ByteView pdu, modbus::ByteView answer) {
  const auto counted = [&](std::size_t bytes) {
    must(answer.size() == 2 + bytes && answer[1] == bytes, "a read answers with as much as was asked for");
  };
  switch (pdu[0]) {
    case 0x01:
    case 0x02:
      return counted((word(pdu, 3) + 7) / 8);
    case 0x03:
    case 0x04:
    case 0x17:
      return counted(2 * word(pdu, 3));
    case 0x05:
    case 0x06:
    case 0x16:
      return must(std::equal(pdu.begin(), pdu.end(), answer.begin(), answer.end()),
                  "a single write is echoed");
    case 0x0F:
    case 0x10:
      return must(std::equal(pdu.begin(), pdu.begin() + 5, answer.begin(), answer.end()),
                  "a write of several is confirmed with address and quantity");
    default:
      return;
  }
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::Input input(data, size);
  Memory memory;
  while (!input.empty()) {
    const auto pdu = input.bytes(input.byte());
    const Memory before = memory;
    const auto answer = modbus::answer(pdu, memory);
    fuzz::must_be_sound(pdu, answer);
    const auto decoded = modbus::decode_request(pdu);
    const auto refusal = modbus::refusal_of(answer);
    if (!decoded)
      must(refusal && *refusal == decoded.error(), "what cannot be decoded is refused for the same reason");
    if (refusal) {
      must(memory == before, "a refused request changes nothing");
      continue;
    }
    must(pdu.size() <= modbus::kPduMax, "what is too long for a PDU is refused");
    must(modbus::implied_request_length(pdu) == pdu.size(),
         "a request that is answered is as long as it says itself");
    check_answer(pdu, answer);
    if (!modbus::may_change_memory(pdu[0]))
      must(memory == before, "a read changes nothing");
    else
      check_touched(pdu, before, memory);
  }
  return 0;
}

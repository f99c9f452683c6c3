#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::io {

/// Who a frame is for, or from: a unit, an io-block, everybody, or nobody that is known.
struct SlaveView {
  const bench::BenchSpec* spec = nullptr;
  const unit::UnitSpec* unit = nullptr;
  const bench::IoBlockSpec* block = nullptr;
  int id = 0;
  bool everybody = false;  ///< then `unit` is one of them, if all have the same table

  /// Whether what stands at its addresses is known.
  [[nodiscard]] bool has_table() const { return unit != nullptr || block != nullptr; }
  /// "soak-heater", "everybody", "id 9".
  [[nodiscard]] std::string name() const;
};
[[nodiscard]] SlaveView slave_view(const bench::BenchSpec& spec, std::size_t line, int id);

/// What stands at some of the addresses of a range.
struct AddressPiece {
  std::size_t offset = 0;  ///< of its first address in the range
  bool mapped = true;      ///< something stands there
  std::size_t count = 1;   ///< addresses it takes
  std::string name;        ///< of the point or signal; "not in the table"
  std::string meaning;     ///< one line about it; may be empty
  std::string value;       ///< in words and units; empty when no values were given
};
/// What stands at `count` addresses from `first` on. `words`: what they carry, bits as 0 and 1; empty: not
/// known. No more than one request may ask for.
[[nodiscard]] std::vector<AddressPiece> pieces_at(const SlaveView& slave, modbus::Table table,
                                                  std::uint16_t first, std::size_t count,
                                                  std::span<const std::uint16_t> words = {});
/// "load_current_l1, state": the names, with their values if there are any; long lists are cut short.
[[nodiscard]] std::string listed_pieces(const std::vector<AddressPiece>& pieces);
/// The same of what is set: "setpoint 50 %, register 0x0028 (40041), which is not in its table, to 1".
[[nodiscard]] std::string set_pieces(const SlaveView& slave, modbus::Table table, std::uint16_t first,
                                     const std::vector<AddressPiece>& pieces);

}  // namespace emberline::io

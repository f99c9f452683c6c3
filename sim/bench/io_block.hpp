#pragma once

#include <functional>
#include <map>
#include <optional>

#include "sim/base/journal_sink.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/bench/signal.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/modbus/slave.hpp"

namespace emberline::bench {

/// A remote I/O block as a slave: coils that drive wires, discrete inputs and input registers that carry
/// signals. Unwired addresses in a partly wired block read 0, alone they are exception 02; an unwired coil
/// written is 02. With outputs_off_after its own watchdog drops the coils when nobody asks; a dropped coil
/// has to be written again.
class IoBlock final : public modbus::Slave, private modbus::DataModel {
 public:
  /// What the block needs of the bench around it.
  struct Surroundings {
    std::function<double(SignalId, SimTime)> value;
    std::function<void(std::uint16_t coil, bool on, SimTime)> coil_changed;
  };
  /// `spec` is the checked bench; `index` the block's place in it.
  IoBlock(const BenchSpec& spec, std::size_t index, Surroundings surroundings, JournalSink& journal);

  std::optional<modbus::Bytes> take_up(modbus::ByteView pdu, const modbus::Arrival& arrival) override;
  [[nodiscard]] Duration ready_after() const override { return spec_.turnaround; }
  [[nodiscard]] std::optional<SimTime> next_timer() const;
  void run_timers(SimTime now);
  [[nodiscard]] bool coil(std::uint16_t address) const { return coils_.at(address); }
  [[nodiscard]] double value(SignalId::Kind kind, std::uint16_t address, SimTime now) const;

 private:
  struct Input {
    SignalId signal;
    registers::Layout layout;
    std::uint16_t first;  ///< address of its first register
  };
  Result<std::vector<bool>, modbus::Refusal> read_bits(modbus::Table table,
                                                       modbus::AddressRange range) override;
  Result<std::vector<std::uint16_t>, modbus::Refusal> read_registers(modbus::Table table,
                                                                     modbus::AddressRange range) override;
  Result<Done, modbus::Refusal> write_bits(std::uint16_t first, const std::vector<bool>& values) override;
  Result<Done, modbus::Refusal> write_registers(std::uint16_t first,
                                                const std::vector<std::uint16_t>& values) override;
  void set_coil(std::uint16_t address, bool on);

  const IoBlockSpec& spec_;
  Surroundings surroundings_;
  JournalSink& journal_;
  std::map<std::uint16_t, bool> coils_;
  std::map<std::uint16_t, SignalId> discrete_;
  std::map<std::uint16_t, Input> input_;  ///< every register of an input, so that halves can be read too
  SimTime now_{};                         ///< of the request being taken up
  SimTime last_request_{};
};

}  // namespace emberline::bench

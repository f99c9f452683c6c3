#include "sim/bench/io_block.hpp"

#include <algorithm>
#include <utility>

#include "sim/base/duration_text.hpp"
#include "sim/modbus/device_functions.hpp"

namespace emberline::bench {

using modbus::Refusal;
using modbus::Table;

IoBlock::IoBlock(const BenchSpec& spec, std::size_t index, Surroundings surroundings, JournalSink& journal)
    : spec_(spec.io_blocks[index]), surroundings_(std::move(surroundings)), journal_(journal) {
  for (const auto& [address, wire] : spec_.coils) coils_[address] = false;
  for (const auto& [address, name] : spec_.discrete) {
    if (const auto signal = find_signal(spec, name)) discrete_[address] = *signal;
  }
  for (const auto& [address, input] : spec_.input) {
    const auto signal = find_signal(spec, input.signal);
    if (!signal) continue;
    for (int i = 0; i < registers::register_count(input.layout); ++i) {
      input_[static_cast<std::uint16_t>(address + i)] = {*signal, input.layout, address};
    }
  }
}

std::optional<modbus::Bytes> IoBlock::take_up(modbus::ByteView pdu, const modbus::Arrival& arrival) {
  run_timers(arrival.at - Duration{1});
  return modbus::serve(pdu, arrival, [&]() -> std::optional<modbus::Bytes> {
    now_ = arrival.at;
    last_request_ = arrival.at;
    if (!modbus::is_about_device(pdu[0])) return modbus::answer(pdu, *this);
    // It has no exception status of its own, and is on for as long as it answers.
    const modbus::DeviceFace face{.identity = spec_.identity,
                                  .unit_id = static_cast<std::uint8_t>(spec_.id),
                                  .exception_status = 0,
                                  .running = true};
    return modbus::answer_about_device(pdu, face, arrival.port);
  });
}

std::optional<SimTime> IoBlock::next_timer() const {
  if (!spec_.outputs_off_after) return std::nullopt;
  const bool any_on = std::any_of(coils_.begin(), coils_.end(), [](const auto& coil) { return coil.second; });
  if (!any_on) return std::nullopt;
  return last_request_ + *spec_.outputs_off_after;
}

void IoBlock::run_timers(SimTime now) {
  const auto due = next_timer();
  if (!due || *due > now) return;
  now_ = *due;
  journal_.note(*due, spec_.name,
                "nobody asked for " + format_duration(*spec_.outputs_off_after) +
                    ": all coils off; they have to be written again");
  for (auto& [address, on] : coils_)
    if (on) set_coil(address, false);
}

double IoBlock::value(SignalId::Kind kind, std::uint16_t address, SimTime now) const {
  if (kind == SignalId::Kind::io_coil) return coils_.at(address) ? 1.0 : 0.0;
  if (kind == SignalId::Kind::io_discrete) return surroundings_.value(discrete_.at(address), now);
  const auto& input = input_.at(address);
  const auto words = registers::encode(surroundings_.value(input.signal, now), input.layout);
  return registers::decode({words.words.data(), static_cast<std::size_t>(words.used)}, input.layout);
}

Result<std::vector<bool>, Refusal> IoBlock::read_bits(Table table, modbus::AddressRange range) {
  std::vector<bool> bits(range.count, false);
  bool any_wired = false;
  for (std::uint16_t i = 0; i < range.count; ++i) {
    const auto address = static_cast<std::uint16_t>(range.first + i);
    const bool wired = table == Table::coils ? coils_.contains(address) : discrete_.contains(address);
    if (!wired) continue;
    any_wired = true;
    const auto kind = table == Table::coils ? SignalId::Kind::io_coil : SignalId::Kind::io_discrete;
    bits[i] = value(kind, address, now_) != 0.0;
  }
  if (!any_wired) return Failure{Refusal::illegal_data_address};
  return bits;
}

Result<std::vector<std::uint16_t>, Refusal> IoBlock::read_registers(Table table, modbus::AddressRange range) {
  std::vector<std::uint16_t> words(range.count, 0);
  bool any_wired = false;
  for (std::uint16_t i = 0; i < range.count && table == Table::input_registers; ++i) {
    const auto address = static_cast<std::uint16_t>(range.first + i);
    const auto found = input_.find(address);
    if (found == input_.end()) continue;
    any_wired = true;
    const auto& input = found->second;
    const auto encoded = registers::encode(surroundings_.value(input.signal, now_), input.layout);
    words[i] = encoded.words[static_cast<std::size_t>(address - input.first)];
  }
  if (!any_wired) return Failure{Refusal::illegal_data_address};
  return words;
}

Result<Done, Refusal> IoBlock::write_bits(std::uint16_t first, const std::vector<bool>& values) {
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!coils_.contains(static_cast<std::uint16_t>(first + i)))
      return Failure{Refusal::illegal_data_address};
  }
  for (std::size_t i = 0; i < values.size(); ++i) set_coil(static_cast<std::uint16_t>(first + i), values[i]);
  return Done{};
}

Result<Done, Refusal> IoBlock::write_registers(std::uint16_t, const std::vector<std::uint16_t>&) {
  return Failure{Refusal::illegal_data_address};  // an io-block has no holding registers
}

void IoBlock::set_coil(std::uint16_t address, bool on) {
  auto& coil = coils_.at(address);
  if (coil == on) return;
  coil = on;
  surroundings_.coil_changed(address, on, now_);
}

}  // namespace emberline::bench

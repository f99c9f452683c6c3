#pragma once

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/faults/action.hpp"
#include "sim/io/files/load.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::test {

using namespace std::chrono_literals;

/// A shipped bench with a PLC beside it that knows nothing but what it reads: every value comes from the
/// answer to a request, by the address, type and scale of the register table.
class Plc {
 public:
  explicit Plc(const std::string& bench_file) : bench_(load(bench_file)) {
    loop_.add(bench::Rank::timers, bench_.timers());
    loop_.add(bench::Rank::grid, bench_.grid());
  }

  /// Lets time pass; the program asks every unit and every io-block twice a second, so that no watchdog is
  /// ever in the way.
  void run(Duration how_long) {
    const SimTime end = loop_.now() + how_long;
    while (loop_.now() < end) {
      loop_.run_through(std::min(end, loop_.now() + 500ms));
      for (const auto& entry : bench_.spec().units)
        static_cast<void>(read(entry.unit.name, registers::Point::state));
      for (const auto& block : bench_.spec().io_blocks) {
        const auto first = block.coils.begin()->first;
        static_cast<void>(ask(block.lines.front(), block.id, {0x01, high(first), low(first), 0, 1}));
      }
    }
  }
  /// Somebody does something to the plant, in the words of a timeline.
  void let(const std::string& action) {
    const auto parsed = faults::parse_action(bench_.spec(), action);
    REQUIRE_MESSAGE(parsed, (parsed ? std::string() : parsed.error()));
    faults::carry_out(bench_, *parsed, loop_.now());
    loop_.touched();
  }
  void write(std::string_view unit, registers::Point point, double value) {
    const auto& spec = unit_spec(unit);
    const auto* row = spec.table->find(point, true);
    REQUIRE(row != nullptr);
    const auto words = registers::encode_row(*row, value);
    modbus::Bytes pdu{0x10,
                      high(row->address),
                      low(row->address),
                      0,
                      static_cast<std::uint8_t>(words.used),
                      static_cast<std::uint8_t>(2 * words.used)};
    for (int i = 0; i < words.used; ++i) {
      pdu.push_back(high(words.words[static_cast<std::size_t>(i)]));
      pdu.push_back(low(words.words[static_cast<std::size_t>(i)]));
    }
    const auto answer = ask(spec.lines.front(), spec.id, pdu);
    REQUIRE(answer.at(0) == 0x10);
  }
  void command(std::string_view unit, double share) { write(unit, registers::Point::setpoint, share); }
  /// A point of a unit as its register says it.
  double read(std::string_view unit, registers::Point point) {
    const auto& spec = unit_spec(unit);
    const auto* row = spec.table->find(point);
    REQUIRE_MESSAGE(row != nullptr, std::string(registers::point_info(point).name));
    const int count = registers::register_count(row->layout);
    const bool input = row->table == modbus::Table::input_registers;
    const auto words = read_words(spec.lines.front(), spec.id, input ? 4 : 3, row->address, count);
    return registers::decode_row(*row, words);
  }
  bool warns(std::string_view unit, registers::Warning warning) {
    return (static_cast<std::uint32_t>(read(unit, registers::Point::warnings)) & registers::bit(warning)) !=
           0;
  }
  bool tripped_by(std::string_view unit, registers::Trip trip) {
    return read(unit, registers::Point::state) == static_cast<double>(registers::State::tripped) &&
           (static_cast<std::uint32_t>(read(unit, registers::Point::trips)) & registers::bit(trip)) != 0;
  }
  /// An input register of an io-block, as its count.
  std::uint16_t io_input(std::string_view block, std::uint16_t address) {
    const auto& spec = bench_.spec().io_blocks.at(bench_.spec().find_io_block(block).value());
    return read_words(spec.lines.front(), spec.id, 4, address, 1).at(0);
  }
  /// A discrete input of an io-block.
  bool io_discrete(std::string_view block, std::uint16_t address) {
    const auto& spec = bench_.spec().io_blocks.at(bench_.spec().find_io_block(block).value());
    const auto answer = ask(spec.lines.front(), spec.id, {0x02, high(address), low(address), 0, 1});
    REQUIRE(answer.at(0) == 0x02);
    return (answer.at(2) & 1U) != 0;
  }
  void io_coil(std::string_view block, std::uint16_t address, bool on) {
    const auto& spec = bench_.spec().io_blocks.at(bench_.spec().find_io_block(block).value());
    const auto answer = ask(spec.lines.front(), spec.id,
                            {0x05, high(address), low(address), static_cast<std::uint8_t>(on ? 0xFF : 0), 0});
    REQUIRE(answer.at(0) == 0x05);
  }
  [[nodiscard]] const bench::BenchSpec& spec() const { return bench_.spec(); }
  /// True if the journal says so; for what is meant for people rather than for programs.
  [[nodiscard]] bool journal_says(std::string_view words) {
    for (const auto& entry : bench_.journal().entries())
      if (entry.sentence.find(words) != std::string::npos) return true;
    return false;
  }

 private:
  static bench::BenchSpec load(const std::string& file) {
    auto spec = io::load_bench(std::string(EMBERLINE_SOURCE_DIR) + "/config/benches/" + file);
    if (!spec)
      for (const auto& problem : spec.error()) MESSAGE(problem.message);
    REQUIRE(spec);
    return std::move(spec).value();
  }
  static std::uint8_t high(std::uint16_t word) { return static_cast<std::uint8_t>(word >> 8U); }
  static std::uint8_t low(std::uint16_t word) { return static_cast<std::uint8_t>(word & 0xFFU); }

  const unit::UnitSpec& unit_spec(std::string_view name) const {
    return bench_.spec().units.at(bench_.spec().find_unit(name).value()).unit;
  }
  modbus::Bytes ask(const std::string& line, int id, const modbus::Bytes& pdu) {
    const auto reply = bench_.request(bench_.spec().find_line(line).value(), static_cast<std::uint8_t>(id),
                                      pdu, loop_.now(), "plc");
    loop_.touched();
    REQUIRE(reply.pdu);
    return *reply.pdu;
  }
  std::vector<std::uint16_t> read_words(const std::string& line, int id, std::uint8_t function,
                                        std::uint16_t address, int count) {
    const auto answer =
        ask(line, id, {function, high(address), low(address), 0, static_cast<std::uint8_t>(count)});
    REQUIRE(answer.at(0) == function);
    std::vector<std::uint16_t> words;
    for (std::size_t at = 2; at + 1 < answer.size(); at += 2)
      words.push_back(static_cast<std::uint16_t>(answer[at] << 8U | answer[at + 1]));
    return words;
  }

  bench::Bench bench_;
  bench::EventLoop loop_;
};

/// The resistor bank with its contactor closed.
class Bank : public Plc {
 public:
  Bank() : Plc("resistor-bank.yaml") { io_coil("bank-io", 0, true); }
};

}  // namespace emberline::test

#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/grid.hpp"
#include "sim/bench/hints.hpp"
#include "sim/bench/io_block.hpp"
#include "sim/bench/power_side.hpp"
#include "sim/bench/soonest.hpp"
#include "sim/bench/wiring.hpp"

namespace emberline::bench {

/// The inside of a bench: the slaves, the wiring between them and the power side. Construction, wires and
/// time are in bench.cpp, what masters reach is in bench_requests.cpp.
class Bench::Impl final : public unit::UnitObserver {
 public:
  Impl(BenchSpec spec, const Options& options);

  // --- requests
  Reply request(std::size_t line, std::uint8_t id, modbus::ByteView pdu, SimTime at, std::string_view master);
  void heard(std::size_t line, modbus::Heard what);

  // --- wires and supplies
  void wire_fault(const Wire& wire, std::optional<bool> closed, SimTime at, std::string_view what);
  void cycle_wire(const Wire& wire, SimTime at);
  void set_unit_powered(std::size_t unit, bool on, SimTime at);
  void set_unit_busy(std::size_t unit, bool on, SimTime at);

  // --- faults (bench_faults.cpp)
  void change_supply(const plant::SupplyState& state, SimTime at, std::string_view subject,
                     std::string sentence);
  void change_leg(std::size_t unit, std::size_t leg, const plant::LegState& state, SimTime at,
                  std::string_view subject, std::string sentence);
  void set_misfiring(std::size_t unit, std::size_t leg, bool forward, double share, SimTime at,
                     std::string_view subject, std::string sentence);
  void change_sensor(std::size_t zone, const SensorFault& fault, SimTime at, std::string sentence);
  void set_fan(std::size_t unit, bool running, SimTime at);
  void reset_cut_out(std::size_t zone, SimTime at);
  void set_local_setpoint(std::size_t unit, double fraction, SimTime at);
  void set_plant_speed(double factor, SimTime at);
  [[nodiscard]] double supply_total(SupplyTotal which) const;

  // --- time
  [[nodiscard]] std::optional<SimTime> next_timer() const;
  void run_timers(SimTime now);
  void run_grid(SimTime now);

  [[nodiscard]] double value(SignalId id, SimTime now) const;
  [[nodiscard]] BenchState save_state(SimTime now);
  void write_seen(const unit::WriteSeen& write) override {
    for (LineObserver* observer : lines_.observers()) observer->write(write);
    if (on_write_) on_write_(write);
  }

  class TimerSource final : public EventSource {
   public:
    explicit TimerSource(Impl& impl) : impl_(impl) {}
    [[nodiscard]] std::optional<SimTime> next() const override { return impl_.next_timer(); }
    void run(SimTime now) override { impl_.run_timers(now); }

   private:
    Impl& impl_;
  };
  class GridSource final : public EventSource {
   public:
    explicit GridSource(Impl& impl) : impl_(impl) {}
    [[nodiscard]] std::optional<SimTime> next() const override { return impl_.grid_.next(); }
    void run(SimTime now) override {
      // The grid is never skipped: after a stall of the machine it catches up instant by instant.
      while (impl_.grid_.next() <= now) impl_.run_grid(impl_.grid_.next());
    }

   private:
    Impl& impl_;
  };

  struct Station {
    modbus::Slave* slave = nullptr;
    std::optional<std::size_t> unit;      ///< set when the slave is a unit
    std::size_t timer = 0;                ///< its place in timers_
    std::string_view name;                ///< of the slave
    modbus::Diagnostics* port = nullptr;  ///< its serial port on the line; null where RTU frames do not go
  };
  /// A slave's serial port on a line.
  struct Port {
    modbus::Diagnostics diagnostics;
    std::optional<std::size_t> unit;  ///< set when the slave is a unit
  };

  void add_slave(const Station& station, const std::vector<std::string>& lines, int id);
  void power_up_ports(std::size_t unit);
  void make_io_blocks();
  void connect_contactors();
  void find_local_setpoints();
  void apply_wire(std::size_t number, SimTime at);
  void apply_all_wires();  ///< at the start
  void coil_changed(std::size_t number, bool on, SimTime at);
  void show_plant_to(std::size_t unit, SimTime at);  ///< its load and meters now
  /// Somebody told the unit something new, or a timer was due. Off is at once. Any other output fires the
  /// thyristors from the next mains cycle on: however many write in a cycle, the network is solved once.
  void unit_changed(std::size_t unit, SimTime at);
  /// A unit's, or an io-block's, next timer may be another one from now on.
  void look_at_unit_timer(std::size_t unit);
  void look_at_block_timer(std::size_t block);
  std::optional<modbus::Bytes> hand_over(const Station& station, modbus::ByteView pdu,
                                         modbus::Arrival arrival);
  std::optional<modbus::Bytes> let_take_up(const Station& station, modbus::ByteView pdu,
                                           const modbus::Arrival& arrival);
  [[nodiscard]] Station only_slave(std::size_t line) const;
  void apply_contactor(std::size_t contactor, SimTime at);
  /// The zone whose cut-out has acted and holds this contactor open, if any.
  [[nodiscard]] std::optional<std::size_t> cut_out_on(std::size_t contactor) const;
  [[nodiscard]] bool contactor_closed(std::size_t contactor) const;
  /// ", but the cut-out of tank holds it open" of a contactor whose coil says closed; else nothing.
  [[nodiscard]] std::string what_holds_open(std::size_t wire) const;
  void plant_changed(SimTime at);
  void watch_cut_outs(SimTime now);
  void note_melted_fuses(SimTime now);
  void disturbed(SimTime at);

  BenchSpec spec_;
  Journal journal_;
  Wiring wiring_;
  PowerSide power_;
  Grid grid_;
  std::vector<std::unique_ptr<unit::VirtualUnit>> units_;
  std::vector<std::unique_ptr<IoBlock>> io_blocks_;
  std::vector<std::optional<std::size_t>> fed_by_;  ///< contactor of each unit
  std::vector<std::pair<std::size_t, SignalId>>
      local_setpoints_;  ///< unit, signal its local setpoint follows
  Lines lines_;
  Hints hints_;
  Traffic traffic_;
  std::vector<SensorFault> sensors_;  ///< by zone
  std::vector<bool> cut_out_;         ///< by zone: it has acted
  std::vector<bool> busy_;            ///< by unit: stuck, answers with exception 06
  Soonest timers_;                    ///< of units, then of io-blocks
  std::multimap<SimTime, std::function<void(SimTime)>> later_;
  std::vector<std::array<Station, 256>> slaves_;           ///< by line and unit id
  std::vector<std::vector<std::unique_ptr<Port>>> ports_;  ///< by line: those of slaves_
  std::vector<unit::FullConduction> full_;
  std::function<void(const unit::WriteSeen&)> on_write_;
  std::function<void(const ActionDone&)> on_action_;
  Duration settling_{};
  SimTime settled_at_{};
  TimerSource timer_source_;
  GridSource grid_source_;
};

}  // namespace emberline::bench

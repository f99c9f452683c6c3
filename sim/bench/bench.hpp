#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "sim/bench/bench_spec.hpp"
#include "sim/bench/bench_state.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/bench/journal.hpp"
#include "sim/bench/lines.hpp"
#include "sim/bench/signal.hpp"
#include "sim/bench/traffic.hpp"
#include "sim/modbus/bytes.hpp"
#include "sim/modbus/diagnostics.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::bench {

/// How long a cycled wire stays open.
inline constexpr Duration kCycleTime = std::chrono::seconds{1};

/// A digital wire that can be opened, closed by a bridge, or cycled: to a terminal of a unit or the coil of a
/// contactor.
struct Wire {
  enum class Kind : std::uint8_t { terminal, contactor };
  Kind kind = Kind::terminal;
  std::size_t index = 0;  ///< unit or contactor
  unit::Terminal terminal = unit::Terminal::enable;
  bool operator==(const Wire&) const = default;
};

/// The wire with this name: UNIT.terminal.enable, UNIT.terminal.reset, CONTACTOR or CONTACTOR.closed.
[[nodiscard]] std::optional<Wire> find_wire(const BenchSpec& spec, std::string_view name);
/// Its name: "soak-heater.terminal.enable", "main".
[[nodiscard]] std::string wire_name(const BenchSpec& spec, const Wire& wire);

/// An action that was carried out on a bench, in the words of timelines; whoever did it.
struct ActionDone {
  SimTime at;
  std::string text;    ///< "cut field for 10 s"
  std::string word;    ///< "cut"
  std::string target;  ///< "field"
  std::string undo;    ///< what takes it back, "restore field only cut"; empty: nothing has to, or can
};

/// The running installation: supply, contactors, zones, units and io-blocks wired together. It is moved on by
/// its event sources (timers and grid) in an EventLoop; requests and actions come in between, at the loop's
/// time.
class Bench {
 public:
  struct Options {
    double plant_speed = 1.0;  ///< how much faster than electrical time the thermal side runs
    std::uint64_t seed = 1;    ///< of everything that happens by chance
    /// Hot from an earlier run; needs problems(*starts_from, spec).empty(). Default: as the spec says.
    std::optional<BenchState> starts_from{};
  };
  explicit Bench(BenchSpec spec) : Bench(std::move(spec), Options{}) {}
  Bench(BenchSpec spec, const Options& options);
  ~Bench();

  [[nodiscard]] const BenchSpec& spec() const;
  [[nodiscard]] Journal& journal();

  /// Watchdogs, start-up times, wire cycles, io-block watchdogs: Rank::timers.
  [[nodiscard]] EventSource& timers();
  /// The grid of mains cycles: Rank::grid.
  [[nodiscard]] EventSource& grid();

  // --- requests
  /// What became of a request that came over a line with a good CRC or header.
  struct Reply {
    std::optional<modbus::Bytes> pdu;  ///< nothing: silence
    bool addressed = false;            ///< somebody on the line has the id (or it was a broadcast)
    Duration ready_after{};            ///< how long after the request the answer is ready to be sent
  };
  /// Hands a request to whoever has `unit_id` on the line: unit or io-block; id 0 on RTU lines is a broadcast
  /// to all of them, on TCP 0 and 255 reach the only slave of a line when there is just one. Ids nobody has:
  /// silence or 0B by the line's setting.
  Reply request(std::size_t line, std::uint8_t unit_id, modbus::ByteView pdu, SimTime at,
                std::string_view master);
  /// A frame, or what should have been one, was on a line that carries RTU frames, whoever it was for: the
  /// slaves on it count it. Comes before the request() that the frame leads to.
  void heard(std::size_t line, modbus::Heard what);

  // --- what faults and operators do; each takes effect at `at` and is journaled
  void set_line_cut(std::size_t line, bool cut, SimTime at);
  /// True if nothing gets through, one way or both.
  [[nodiscard]] bool line_cut(std::size_t line) const;
  /// The lines with their impairments, and who watches them.
  [[nodiscard]] Lines& lines();
  [[nodiscard]] const Lines& lines() const;
  using Wire = bench::Wire;
  void open_wire(const Wire& wire, SimTime at);     ///< held open until released
  void close_wire(const Wire& wire, SimTime at);    ///< bridged until released
  void release_wire(const Wire& wire, SimTime at);  ///< back to its coil
  void cycle_wire(const Wire& wire, SimTime at);    ///< open for 1 s, then released
  /// When it last came to be closed; nothing: not since the start.
  [[nodiscard]] std::optional<SimTime> wire_closed_at(const Wire& wire) const;
  void set_unit_powered(std::size_t unit, bool on, SimTime at);
  /// Stuck: answers every request with exception 06 and takes none of them up.
  void set_unit_busy(std::size_t unit, bool on, SimTime at);

  // --- faults of supply, power stage, load and sensors. Each takes the whole new state and a sentence for
  // the journal about what happened to `subject`
  [[nodiscard]] const plant::SupplyState& supply_state() const;
  void change_supply(const plant::SupplyState& state, SimTime at, std::string_view subject,
                     std::string sentence);
  /// `leg` 0 to 2; of a single-phase unit 0.
  [[nodiscard]] const plant::LegState& leg_state(std::size_t unit, std::size_t leg) const;
  void change_leg(std::size_t unit, std::size_t leg, const plant::LegState& state, SimTime at,
                  std::string_view subject, std::string sentence);
  /// A thyristor that misses its pulse in this share of its half-waves, by chance; 0: never.
  [[nodiscard]] double misfiring(std::size_t unit, std::size_t leg, bool forward) const;
  void set_misfiring(std::size_t unit, std::size_t leg, bool forward, double share, SimTime at,
                     std::string_view subject, std::string sentence);
  /// What is wrong with a zone's sensor.
  struct SensorFault {
    bool broken = false;    ///< ZONE.measured has no value (NaN)
    double offset_K = 0.0;  ///< it shows so much too much
    bool operator==(const SensorFault&) const = default;
  };
  [[nodiscard]] const SensorFault& sensor_fault(std::size_t zone) const;
  void change_sensor(std::size_t zone, const SensorFault& fault, SimTime at, std::string sentence);
  [[nodiscard]] bool fan_running(std::size_t unit) const;
  void set_fan(std::size_t unit, bool running, SimTime at);
  /// Lets the unit's partial-load supervision learn its reference anew.
  void learn_load(std::size_t unit, SimTime at);
  /// Turns the unit's own knob: its local setpoint, a fraction. Not of a unit whose local setpoint is a
  /// signal of the bench.
  void set_local_setpoint(std::size_t unit, double fraction, SimTime at);
  /// How much faster than electrical time zones, walls and sensors run.
  void set_plant_speed(double factor, SimTime at);
  [[nodiscard]] double plant_speed() const;
  /// A cut-out reset by hand; journaled as refused while the zone is still too hot.
  void reset_cut_out(std::size_t zone, SimTime at);

  /// Tells the listener of on_action(). For whoever carries an action out, after it.
  void action_done(const ActionDone& done);
  /// Called for every action that is carried out; an empty one: nobody is told any more.
  void on_action(std::function<void(const ActionDone&)> listener);

  /// Calls `what` once, among the timers of the instant `when`.
  void later(SimTime when, std::function<void(SimTime)> what);

  // --- looking in; reading never moves anything
  [[nodiscard]] double value(SignalId id, SimTime now) const;
  [[nodiscard]] const unit::VirtualUnit& unit(std::size_t index) const;
  /// Where the heat of all zones has gone since the start of this run, J: given = stored + lost.
  struct HeatBalance {
    double given_J = 0.0;
    double stored_J = 0.0;
    double lost_J = 0.0;
  };
  [[nodiscard]] HeatBalance heat_balance() const;
  /// How hot it is and what its counters show at `now`, for a later run. Moves the plant on to there first.
  [[nodiscard]] BenchState save_state(SimTime now);
  /// One cycle of a unit's voltages and currents as they are now, for drawing.
  [[nodiscard]] plant::Waves waves(std::size_t unit) const;
  /// What has gone over the lines so far.
  [[nodiscard]] TrafficReview traffic() const;
  /// Called for every write that reaches a point of a unit, accepted or not.
  void on_write(std::function<void(const unit::WriteSeen&)> listener);

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::bench

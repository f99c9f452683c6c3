#pragma once

#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/bench/bench.hpp"

namespace emberline::bench {

/// The state of every digital wire of the bench: what its coils say, and what a fault of the wire makes of
/// it. Terminals and contactors without a coil are closed, reset terminals open; with a coil they are open
/// until it is written.
class Wiring {
 public:
  explicit Wiring(const BenchSpec& spec);

  [[nodiscard]] std::size_t size() const { return wires_.size(); }
  [[nodiscard]] std::size_t number_of(const Wire& wire) const;
  [[nodiscard]] Wire wire(std::size_t number) const;
  [[nodiscard]] bool closed(std::size_t number) const;
  /// Something may have changed it: an edge, if there was one, was at `at`.
  void look_for_edge(std::size_t number, SimTime at);
  /// When it last came to be closed; nothing: not since the start.
  [[nodiscard]] std::optional<SimTime> closed_at(std::size_t number) const {
    return wires_[number].closed_at;
  }

  void add_coil(std::size_t number) { ++wires_[number].coils; }
  /// A coil of this wire goes on or off; several coils on one wire are in parallel.
  void coil_changes(std::size_t number, bool on) { wires_[number].coils_on += on ? 1 : -1; }
  /// A fault of the wire: held open or closed; nothing gives it back to its coil. Ends a cycle.
  void hold(std::size_t number, std::optional<bool> closed);
  /// Held open until `release_at`.
  void cycle(std::size_t number, SimTime release_at);
  [[nodiscard]] std::optional<SimTime> next_release() const;
  /// The wire whose cycle ends at or before `now`, given back to its coil; nothing if none.
  std::optional<std::size_t> release_due(SimTime now);

 private:
  struct State {
    int coils = 0;
    int coils_on = 0;
    bool closed_without_coil = true;
    std::optional<bool> held;
    std::optional<SimTime> release_at;
    std::optional<bool> seen;  ///< closed at the last look; nothing: not looked at yet
    std::optional<SimTime> closed_at;
  };
  std::size_t units_;
  std::vector<State> wires_;
  std::size_t cycling_ = 0;  ///< wires with an instant at which they are released
};

}  // namespace emberline::bench

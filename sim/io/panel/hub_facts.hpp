#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/bench/signal.hpp"
#include "sim/io/line/wall_bench.hpp"

namespace emberline::io {

/// What stays as it is while a bench runs: its spec, copied, and where each signal stands in a snapshot. Made
/// once; both threads read it.
class BenchFacts {
 public:
  /// `places`: where masters find the lines; may be empty when that is not known.
  BenchFacts(const bench::BenchSpec& the_spec, std::vector<OpenLine> places);

  /// Small, since there are seventy of a unit: its name and how to read it are found when somebody asks.
  struct Signal {
    bench::SignalId id;
    bool hidden = false;  ///< tells of a fault and not of a symptom: not for watchers in blind mode
  };
  /// Where the values of one unit stand.
  struct UnitPlaces {
    std::size_t points = 0;  ///< of the first; the others follow in the order of the enumeration
    std::array<std::size_t, unit::kTerminalCount> terminals{};
    std::vector<std::size_t> relays;
    std::vector<std::string> phases;  ///< "L1" to "L3", of a delta "L12" to "L31"
  };
  struct ZonePlaces {
    std::size_t temperature = 0;
    std::size_t measured = 0;
    std::optional<std::size_t> cut_out;
  };

  /// The signal with this name as its place among `signals`.
  [[nodiscard]] std::optional<std::size_t> find(std::string_view name) const;
  /// Of the signal with this place.
  [[nodiscard]] std::string name(std::size_t place) const {
    return bench::signal_name(spec, signals[place].id);
  }
  [[nodiscard]] bench::SignalInfo info(std::size_t place) const {
    return bench::signal_info(spec, signals[place].id);
  }
  /// Where masters find a line: a path, or HOST:PORT; nothing when that is not known.
  [[nodiscard]] std::optional<std::string> place_of(std::size_t line) const;

  bench::BenchSpec spec;
  std::vector<OpenLine> lines;
  std::vector<Signal> signals;
  std::vector<UnitPlaces> units;
  std::vector<ZonePlaces> zones;
  std::vector<std::size_t> contactors;
  std::vector<std::size_t> line_states;
  std::vector<std::size_t> supply_voltages;
  std::vector<std::size_t> supply_currents;
  std::size_t supply_power = 0;
  std::size_t supply_neutral = 0;
  std::size_t supply_frequency = 0;

 private:
  void find_places();
  [[nodiscard]] std::optional<std::size_t> find(bench::SignalId id) const;
  std::vector<std::uint32_t> by_id_;  // places, in the order of their ids
};

}  // namespace emberline::io

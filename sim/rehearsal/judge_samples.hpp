#pragma once

#include <cstddef>
#include <deque>
#include <string>
#include <utility>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/rehearsal/evidence.hpp"
#include "sim/rehearsal/expectation.hpp"

namespace emberline::rehearsal {

/// Keeps what the signals that expectations speak of were lately, to show what was around a failure.
class Samples {
 public:
  static constexpr std::size_t kBefore = 8;
  static constexpr std::size_t kAfter = 4;
  /// Between two of them; at the start of a run, where there are no more, they are closer.
  static constexpr Duration kApart = std::chrono::milliseconds{200};

  /// The bench must outlive this.
  explicit Samples(const bench::Bench& bench) : bench_(bench) {}
  /// Which of the columns, each of one signal, are those of an expectation.
  using Columns = std::vector<std::size_t>;
  [[nodiscard]] Columns add(const Expectation& expectation);

  /// Goes on with what is being followed, and takes a sample if it is time and one may be needed.
  void look(SimTime now, bool needed);
  /// What was before and at the failure at `now`; look() adds what comes after. `around` must outlive this.
  void begin(Around& around, const Columns& columns, SimTime now);
  /// The run is over: what is being followed gets its last instant if there is room.
  void finish(SimTime now);

 private:
  struct Column {
    std::string name;
    bench::SignalId signal;
    bench::SignalInfo info;
  };
  struct Sample {
    SimTime at;
    std::vector<double> values;
  };
  struct Followed {
    Around* around;
    Columns columns;
    std::size_t left = kAfter;
  };
  [[nodiscard]] std::size_t column_of(const std::string& name, bench::SignalId signal);
  [[nodiscard]] Around::Row row(const Columns& columns, SimTime now) const;
  void follow(SimTime now, Duration apart);

  const bench::Bench& bench_;
  std::vector<Column> columns_;
  std::deque<Sample> samples_;
  std::vector<Followed> followed_;
};

}  // namespace emberline::rehearsal

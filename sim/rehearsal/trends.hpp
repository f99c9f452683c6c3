#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/rehearsal/evidence.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::rehearsal {

/// At most so many points a trend has; a plot on a page shows no more.
inline constexpr std::size_t kTrendPoints = 600;

/// A quantity over a run whose length is known only about: lowest and highest value of spans of time that
/// double whenever there would be too many. NaN where a span has no value at all.
class QuantityTrend {
 public:
  /// `span`: the first length of a span.
  explicit QuantityTrend(Duration span) : span_(span) {}
  /// Times never go back.
  void take(SimTime at, double value);
  [[nodiscard]] std::vector<Trend::Point> finished() const;

 private:
  void close();
  void widen();
  static bool level(const Trend::Point& one, const Trend::Point& other);

  Duration span_;
  SimTime ends_{};  ///< of the span that is being filled
  bool filling_ = false;
  Trend::Point open_{};
  std::vector<Trend::Point> points_;  ///< each at the last instant of its span that had a value
};

/// Something with few values, such as a state: a point at every change, kept to the instant. Only when there
/// are too many are those that stand for a short time put together, shorter than a span that doubles until it
/// is enough: such a point has a lowest and a highest value, and what stands for longer stays exact.
class ChangeTrend {
 public:
  explicit ChangeTrend(Duration span) : span_(span) {}
  void take(SimTime at, double value);
  [[nodiscard]] std::vector<Trend::Point> finished(SimTime end) const;

 private:
  void thin(SimTime end);
  void join_short(SimTime end);

  Duration span_;
  std::vector<Trend::Point> points_;  ///< each holds until the next
  double last_ = 0.0;
};

/// Records signals over a run for its report: temperatures of every zone, command, power and state of every
/// unit, what the scenario's expectations and timeline speak of, and what it asks for under `record`. Looks
/// on after every instant, behind the judge, and never moves anything.
class TrendRecorder final : public bench::EventSource {
 public:
  /// The scenario and the bench must outlive the recorder.
  TrendRecorder(const ScenarioSpec& scenario, const bench::Bench& bench);

  [[nodiscard]] std::optional<SimTime> next() const override { return std::nullopt; }
  void run(SimTime now) override;
  /// What has been recorded until `now`: zones, units, then the rest in the order in which it is spoken of.
  [[nodiscard]] std::vector<Trend> finish(SimTime now);

 private:
  struct Quantity {
    bench::SignalId signal;
    QuantityTrend trend;
  };
  struct Changes {
    bench::SignalId signal;
    ChangeTrend trend;
  };
  void add(bench::SignalId signal, Duration run);

  const bench::Bench& bench_;
  std::vector<bench::SignalId> order_;
  std::vector<Quantity> quantities_;
  std::vector<Changes> changes_;
};

}  // namespace emberline::rehearsal

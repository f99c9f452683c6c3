#include "plant-models/thermal/heat_group.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstdint>
#include <utility>

namespace emberline::plant {
namespace {

constexpr double kRelativeTolerance = 1e-8;
constexpr double kAbsoluteTolerance_K = 1e-9;
/// Powers that differ by less, relatively, are one and the same for the step under way.
constexpr double kSamePower = 1e-6;
constexpr std::chrono::nanoseconds kLongestStep = std::chrono::seconds(1);
constexpr std::chrono::nanoseconds kShortestLook = std::chrono::milliseconds(1);
constexpr double kNanosecond_s = 1e-9;

double seconds(std::chrono::nanoseconds time) { return static_cast<double>(time.count()) * kNanosecond_s; }

std::chrono::nanoseconds scaled(std::chrono::nanoseconds time, double factor) {
  return std::chrono::nanoseconds(static_cast<std::int64_t>(static_cast<double>(time.count()) * factor));
}

}  // namespace

HeatGroup::HeatGroup(const std::vector<ZoneParameters>& zones, const std::vector<ElementParameters>& elements,
                     const std::vector<NeighbourParameters>& neighbours, std::vector<std::size_t> sources)
    : equations_(zones, elements, neighbours),
      sources_(std::move(sources)),
      state_(equations_.start()),
      suggested_(kLongestStep),
      assumed_W_(elements.size(), 0.0),
      owed_J_(elements.size(), 0.0) {
  assert(sources_.size() == elements.size());
  for (const auto& zone : zones)
    sensors_.emplace_back(Sensor::Parameters{zone.sensor_lag, zone.sensor_dead_time, zone.start_degC});
  for (State* state : {&slopes_, &end_, &end_slopes_, &error_, &power_W_}) state->resize(state_.size());
}

void HeatGroup::advance(Nanoseconds step, const std::vector<double>& element_power_W) {
  if (!as_assumed(element_power_W)) {
    stop_here();
    assume(element_power_W);
  }
  for (std::size_t i = 0; i < sources_.size(); ++i) {
    const double given_W = element_power_W[sources_[i]];
    given_J_ += given_W * seconds(step);
    if (given_W == assumed_W_[i]) continue;
    owed_J_[i] += (given_W - assumed_W_[i]) * seconds(step);
    owing_ = true;
  }
  while (step.count() > 0) {
    if (length_.count() == 0) begin_step(step);
    const auto part = std::min(step, length_ - passed_);
    tell_sensors(passed_, passed_ + part);
    passed_ += part;
    step -= part;
    if (passed_ == length_) end_step();
  }
}

bool HeatGroup::as_assumed(const std::vector<double>& element_power_W) const {
  for (std::size_t i = 0; i < sources_.size(); ++i) {
    const double difference_W = std::abs(element_power_W[sources_[i]] - assumed_W_[i]);
    if (!(difference_W <= kSamePower * std::abs(assumed_W_[i]))) return false;
  }
  return true;
}

void HeatGroup::assume(const std::vector<double>& element_power_W) {
  std::fill(power_W_.begin(), power_W_.end(), 0.0);
  for (std::size_t i = 0; i < sources_.size(); ++i) {
    assumed_W_[i] = element_power_W[sources_[i]];
    assert(std::isfinite(assumed_W_[i]));
    power_W_[equations_.place(i)] += assumed_W_[i];
  }
  slopes_known_ = false;
}

/// Steps are whole nanoseconds, so that no rounding of time ever adds up. A call longer than what is looked
/// ahead knows its own powers that far.
void HeatGroup::begin_step(Nanoseconds asked) {
  const auto system = [this](const State& state, State& out, double) {
    equations_.slopes(state, power_W_, out);
  };
  if (!slopes_known_) equations_.slopes(state_, power_W_, slopes_);
  slopes_known_ = true;
  const Nanoseconds longest = std::min(std::max(look_ahead_, asked), kLongestStep);
  for (;;) {
    const auto trial = std::clamp(suggested_, Nanoseconds(1), longest);
    stepper_.do_step(system, state_, slopes_, 0.0, end_, end_slopes_, seconds(trial), error_);
    const double error = error_of_step(seconds(trial));
    if (error <= 1.0) {
      // The usual control of a method of order 5 (Hairer, Norsett, Wanner, Solving Ordinary Differential
      // Equations I, II.4). A step cut short by `longest` says nothing against longer ones.
      const Nanoseconds next =
          error > 0.5 ? trial
                      : std::min(scaled(trial, 0.9 * std::pow(std::max(error, 3.2e-4), -0.2)), kLongestStep);
      suggested_ = trial == longest ? std::max(suggested_, next) : next;
      length_ = trial;
      passed_ = {};
      return;
    }
    assert(trial.count() > 1);
    suggested_ = scaled(trial, std::max(0.9 * std::pow(error, -1.0 / 3.0), 0.2));
  }
}

/// The largest error against the tolerance; what was lost follows from the temperatures.
double HeatGroup::error_of_step(double length_s) const {
  double largest = 0.0;
  for (std::size_t i = 0; i + 1 < state_.size(); ++i) {
    const double tolerance_K =
        kAbsoluteTolerance_K + kRelativeTolerance * (std::abs(state_[i]) + length_s * std::abs(slopes_[i]));
    largest = std::max(largest, std::abs(error_[i]) / tolerance_K);
  }
  return largest;
}

void HeatGroup::end_step() {
  std::swap(state_, end_);
  std::swap(slopes_, end_slopes_);
  if (length_ >= look_ahead_) look_ahead_ = std::min(2 * length_, kLongestStep);
  length_ = passed_ = {};
  pay();
}

/// The powers change at this instant.
void HeatGroup::stop_here() {
  if (length_.count() > 0) {
    const auto system = [this](const State& state, State& out, double) {
      equations_.slopes(state, power_W_, out);
    };
    stepper_.do_step(system, state_, slopes_, 0.0, end_, end_slopes_, seconds(passed_));
    std::swap(state_, end_);
    look_ahead_ = std::max(passed_, kShortestLook);
    length_ = passed_ = {};
  }
  pay();
}

/// What is owed goes in at once.
void HeatGroup::pay() {
  if (!owing_) return;
  for (std::size_t i = 0; i < owed_J_.size(); ++i) {
    const std::size_t place = equations_.place(i);
    state_[place] += owed_J_[i] / equations_.heat_capacity_J_per_K(place);
    owed_J_[i] = 0.0;
  }
  owing_ = false;
  slopes_known_ = false;
}

void HeatGroup::tell_sensors(Nanoseconds from, Nanoseconds to) {
  for (std::size_t zone = 0; zone < sensors_.size(); ++zone) {
    const Stretch whole{length_, state_[zone], slopes_[zone], end_[zone], end_slopes_[zone]};
    sensors_[zone].advance(whole.part(from, to));
  }
}

double HeatGroup::now(std::size_t place) const {
  if (length_.count() == 0) return state_[place];
  return Stretch{length_, state_[place], slopes_[place], end_[place], end_slopes_[place]}.at(passed_);
}

HeatGroup::State HeatGroup::state_now() const {
  State state(state_.size());
  for (std::size_t place = 0; place < state.size(); ++place) state[place] = now(place);
  return state;
}

HeatGroup::State HeatGroup::paid_state() const {
  State state = state_now();
  for (std::size_t i = 0; i < owed_J_.size(); ++i) {
    const std::size_t place = equations_.place(i);
    state[place] += owed_J_[i] / equations_.heat_capacity_J_per_K(place);
  }
  return state;
}

ThermalState HeatGroup::state() const {
  const State now = paid_state();
  ThermalState saved;
  for (std::size_t zone = 0; zone < sensors_.size(); ++zone) {
    auto& own = saved.zones.emplace_back();
    own.temperature_degC = now[zone];
    own.sensor = sensors_[zone].state();
    const std::size_t cells = equations_.wall_cells(zone);
    if (cells == 0) continue;
    const auto* first = now.data() + equations_.first_cell(zone);
    own.wall_degC.assign(first, first + cells);
  }
  for (std::size_t i = 0; i < sources_.size(); ++i) saved.elements_degC.push_back(now[equations_.place(i)]);
  return saved;
}

void HeatGroup::begin_at(const ThermalState& state) {
  assert(state.zones.size() == sensors_.size() && state.elements_degC.size() == sources_.size());
  State start = equations_.start();
  // Zones last: an element without a heat capacity of its own stands in its zone's place.
  for (std::size_t i = 0; i < sources_.size(); ++i) start[equations_.place(i)] = state.elements_degC[i];
  for (std::size_t zone = 0; zone < sensors_.size(); ++zone) {
    const auto& own = state.zones[zone];
    start[zone] = own.temperature_degC;
    sensors_[zone].begin_at(own.sensor);
    assert(own.wall_degC.size() == equations_.wall_cells(zone));
    if (!own.wall_degC.empty())
      std::copy(own.wall_degC.begin(), own.wall_degC.end(),
                start.begin() + static_cast<std::ptrdiff_t>(equations_.first_cell(zone)));
  }
  equations_.begin_at(start);
  state_ = std::move(start);
  slopes_known_ = false;
  length_ = passed_ = look_ahead_ = {};
  suggested_ = kLongestStep;
  std::fill(owed_J_.begin(), owed_J_.end(), 0.0);
  owing_ = false;
  given_J_ = 0.0;
}

double HeatGroup::stored_J() const {
  double stored_J = equations_.stored_J(state_now());
  for (const double owed_J : owed_J_) stored_J += owed_J;
  return stored_J;
}

}  // namespace emberline::plant

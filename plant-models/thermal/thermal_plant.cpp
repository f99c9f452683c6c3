#include "plant-models/thermal/thermal_plant.hpp"

#include <algorithm>
#include <cassert>
#include <cstdint>

#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include "plant-models/thermal/sensor.hpp"

namespace emberline::plant {
namespace {

namespace odeint = boost::numeric::odeint;

using State = std::vector<double>;
using Nanoseconds = std::chrono::nanoseconds;

constexpr double kRelativeTolerance = 1e-8;
constexpr double kAbsoluteTolerance = 1e-9;  // K
constexpr double kDetachedElement_degC = 20.0;
constexpr Nanoseconds kLongestStep = std::chrono::seconds(1);
constexpr double kNanosecond_s = 1e-9;

}  // namespace

/// The state vector holds the zones first, then the elements that have a heat capacity.
class ThermalPlant::Impl {
 public:
  Impl(const std::vector<ZoneParameters>& zones, const std::vector<ElementParameters>& elements);
  void advance(Nanoseconds step, const std::vector<double>& element_power_W);

  [[nodiscard]] double zone_degC(std::size_t zone) const {
    assert(zone < zones_.size());
    return state_[zone];
  }
  [[nodiscard]] double measured_degC(std::size_t zone) const {
    assert(zone < zones_.size());
    return sensors_[zone].measured_degC();
  }
  [[nodiscard]] double element_degC(std::size_t element) const {
    assert(element < elements_.size());
    const Element& own = elements_[element];
    if (!own.zone) return kDetachedElement_degC;
    return state_[own.place.value_or(*own.zone)];
  }

 private:
  struct Zone {
    double heat_capacity_J_per_K;
    double loss_W_per_K;
    double ambient_degC;
  };
  struct Element {
    std::optional<std::size_t> zone;
    std::optional<std::size_t> place;  ///< in the state, when it has a heat capacity
    double heat_capacity_J_per_K;
    double coupling_W_per_K;
  };

  void slopes(const State& state, State& out);
  void step_by(Nanoseconds step);
  void tell_sensors(Nanoseconds length);

  std::vector<Zone> zones_;
  std::vector<Element> elements_;
  std::vector<Sensor> sensors_;
  State state_;
  State slopes_;
  State before_;
  State slopes_before_;
  State power_W_;  ///< that goes straight into each entry of the state
  State heat_W_;   ///< scratch of slopes()
  Nanoseconds suggested_ = kLongestStep;
  odeint::controlled_runge_kutta<odeint::runge_kutta_dopri5<State>> stepper_{
      odeint::default_error_checker<double, odeint::range_algebra, odeint::default_operations>(
          kAbsoluteTolerance, kRelativeTolerance)};
};

ThermalPlant::Impl::Impl(const std::vector<ZoneParameters>& zones,
                         const std::vector<ElementParameters>& elements) {
  for (const auto& zone : zones) {
    assert(problems(zone).empty());
    zones_.push_back({zone.mass_kg * zone.specific_heat_J_per_kgK, zone.loss_W_per_K, zone.ambient_degC});
    sensors_.emplace_back(Sensor::Parameters{zone.sensor_lag, zone.sensor_dead_time, zone.start_degC});
    state_.push_back(zone.start_degC);
  }
  for (const auto& element : elements) {
    assert(problems(element).empty());
    assert(!element.zone || *element.zone < zones.size());
    Element own{element.zone, std::nullopt, element.heat_capacity_J_per_K, element.coupling_W_per_K};
    if (element.zone && element.heat_capacity_J_per_K > 0.0) {
      own.place = state_.size();
      state_.push_back(zones[*element.zone].start_degC);
    }
    elements_.push_back(own);
  }
  slopes_.resize(state_.size());
  before_.resize(state_.size());
  slopes_before_.resize(state_.size());
  power_W_.resize(state_.size());
  heat_W_.resize(state_.size());
}

void ThermalPlant::Impl::slopes(const State& state, State& out) {
  std::copy(power_W_.begin(), power_W_.end(), heat_W_.begin());
  for (const auto& element : elements_) {
    if (!element.place) continue;
    const double flow_W = element.coupling_W_per_K * (state[*element.place] - state[*element.zone]);
    heat_W_[*element.zone] += flow_W;
    out[*element.place] = (heat_W_[*element.place] - flow_W) / element.heat_capacity_J_per_K;
  }
  for (std::size_t zone = 0; zone < zones_.size(); ++zone) {
    const Zone& own = zones_[zone];
    const double loss_W = own.loss_W_per_K * (state[zone] - own.ambient_degC);
    out[zone] = (heat_W_[zone] - loss_W) / own.heat_capacity_J_per_K;
  }
}

void ThermalPlant::Impl::advance(Nanoseconds step, const std::vector<double>& element_power_W) {
  assert(step.count() >= 0);
  assert(element_power_W.size() == elements_.size());
  if (state_.empty()) return;
  std::fill(power_W_.begin(), power_W_.end(), 0.0);
  for (std::size_t element = 0; element < elements_.size(); ++element) {
    const Element& own = elements_[element];
    if (own.zone) power_W_[own.place.value_or(*own.zone)] += element_power_W[element];
  }
  slopes(state_, slopes_);
  while (step.count() > 0) {
    const auto part = std::min(step, kLongestStep);
    step_by(part);
    step -= part;
  }
}

/// Steps are whole nanoseconds, so that no rounding of time ever adds up.
void ThermalPlant::Impl::step_by(Nanoseconds step) {
  const auto system = [this](const State& state, State& out, double) { slopes(state, out); };
  while (step.count() > 0) {
    const auto trial = std::clamp(suggested_, Nanoseconds(1), step);
    double time_s = 0.0;
    double length_s = static_cast<double>(trial.count()) * kNanosecond_s;
    before_ = state_;
    slopes_before_ = slopes_;
    const bool accepted = stepper_.try_step(system, state_, slopes_, time_s, length_s) == odeint::success;
    const Nanoseconds next(static_cast<std::int64_t>(std::min(length_s, 1.0) / kNanosecond_s));
    if (!accepted) {
      assert(trial.count() > 1);
      suggested_ = next;
      continue;
    }
    // A step cut short by the end of the call says nothing against longer ones.
    suggested_ = trial == step ? std::max(suggested_, next) : next;
    tell_sensors(trial);
    step -= trial;
  }
}

void ThermalPlant::Impl::tell_sensors(Nanoseconds length) {
  for (std::size_t zone = 0; zone < zones_.size(); ++zone)
    sensors_[zone].advance({length, before_[zone], slopes_before_[zone], state_[zone], slopes_[zone]});
}

ThermalPlant::ThermalPlant(const std::vector<ZoneParameters>& zones,
                           const std::vector<ElementParameters>& elements)
    : impl_(std::make_unique<Impl>(zones, elements)) {}
ThermalPlant::~ThermalPlant() = default;
ThermalPlant::ThermalPlant(ThermalPlant&&) noexcept = default;

void ThermalPlant::advance(std::chrono::nanoseconds step, const std::vector<double>& element_power_W) {
  impl_->advance(step, element_power_W);
}
double ThermalPlant::zone_degC(std::size_t zone) const { return impl_->zone_degC(zone); }
double ThermalPlant::measured_degC(std::size_t zone) const { return impl_->measured_degC(zone); }
double ThermalPlant::element_degC(std::size_t element) const { return impl_->element_degC(element); }

}  // namespace emberline::plant

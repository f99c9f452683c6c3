#pragma once

#include <chrono>
#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "plant-models/thermal/thermal_state.hpp"
#include "plant-models/thermal/wall.hpp"

namespace emberline::plant {

/// A zone: a body of one uniform temperature, heated by its elements and losing heat to its surroundings:
///     m c dT/dt = P - loss (T - T_ambient) - what goes into its wall and to its neighbours
/// Without the last two its step response is exponential with time constant m c / loss and settles P / loss
/// above ambient. Valid for a Biot number below 0.1 (Incropera, Fundamentals of Heat and Mass Transfer).
struct ZoneParameters {
  double mass_kg = 1.0;                    ///< above 0
  double specific_heat_J_per_kgK = 900.0;  ///< above 0
  double loss_W_per_K = 0.0;               ///< 0 or more; 0 is perfectly insulated
  double ambient_degC = 20.0;
  double start_degC = 20.0;
  std::optional<WallParameters> wall;     ///< loses heat beside `loss`
  std::chrono::nanoseconds sensor_lag{};  ///< first-order time constant; 0: none
  std::chrono::nanoseconds sensor_dead_time{};
};

/// An element between a load and its zone:
///     C dT/dt = P - coupling (T - T_zone) - emissivity sigma radiating_area (T^4 - T_zone^4)
/// with absolute temperatures in the last term. Without heat capacity of its own it has its zone's
/// temperature and its power goes to the zone at once. Of two grey surfaces that see only each other the
/// emissivity together is 1 / (1/e1 + (1/e2 - 1) A1/A2), A1 being the inner one's area (Cengel, Heat
/// Transfer: A Practical Approach, ch. 13).
struct ElementParameters {
  std::optional<std::size_t> zone;     ///< without a zone the element stays at 20 degC
  double heat_capacity_J_per_K = 0.0;  ///< 0: as its zone
  double coupling_W_per_K = 0.0;       ///< conduction and convection to the zone, 0 or more
  double radiating_area_m2 = 0.0;      ///< 0 or more; only with a heat capacity
  double emissivity = 0.0;             ///< of element and zone together, 0 to 1
};

/// Heat that goes from one zone to another: by conduction and air, and by radiation through an opening.
///     conductance (T_a - T_b) + emissivity sigma opening (T_a^4 - T_b^4)
struct NeighbourParameters {
  std::size_t a = 0;  ///< zones, by index
  std::size_t b = 0;
  double conductance_W_per_K = 0.0;  ///< 0 or more
  double opening_m2 = 0.0;           ///< 0 or more
  double emissivity = 1.0;           ///< 0 to 1
};

/// All zones, walls, elements and sensors of a bench, integrated by Boost.Numeric.Odeint (Dormand-Prince
/// 5(4), relative tolerance 1e-8, whole nanoseconds, at most 1 s a step). It looks ahead as if powers stayed
/// and serves calls from inside a step; a power that changes by more than 1e-6 of itself ends the step at
/// that instant. How time is cut into calls changes temperatures by less than 1e-6. Deterministic: the result
/// depends on the sequence of calls alone.
class ThermalPlant {
 public:
  /// Everything wrong with the parameters, in words for the writer of a bench file; empty if possible. Time
  /// constants below 10 ms are refused: nothing that heats is that quick, and the integration would crawl.
  static std::vector<std::string> problems(const ZoneParameters& zone);
  static std::vector<std::string> problems(const ElementParameters& element);
  static std::vector<std::string> problems(const NeighbourParameters& neighbour);
  /// That, and whether heat would go from one to the other too quickly; the zones are those it names.
  static std::vector<std::string> problems(const NeighbourParameters& neighbour, const ZoneParameters& a,
                                           const ZoneParameters& b);
  /// Elements and neighbours name their zones by index into `zones`.
  ThermalPlant(const std::vector<ZoneParameters>& zones, const std::vector<ElementParameters>& elements,
               const std::vector<NeighbourParameters>& neighbours = {});
  ~ThermalPlant();
  ThermalPlant(ThermalPlant&&) noexcept;

  /// Moves on by `step`, of any length, with the elements' powers held constant. `element_power_W` has one
  /// entry an element, finite.
  void advance(std::chrono::nanoseconds step, const std::vector<double>& element_power_W);

  [[nodiscard]] double zone_degC(std::size_t zone) const;      ///< true temperature
  [[nodiscard]] double measured_degC(std::size_t zone) const;  ///< through the sensor: dead time, then lag
  [[nodiscard]] double element_degC(std::size_t element) const;
  /// Temperature in the wall of a zone that has one, at `depth_m` from its inside face.
  [[nodiscard]] double wall_degC(std::size_t zone, double depth_m) const;
  /// How many cells the zone's wall is cut into; 0 without a wall.
  [[nodiscard]] std::size_t wall_cells(std::size_t zone) const;
  /// Everything stored in zones, elements and walls, counted from the start, J. That it is given_J() -
  /// lost_J() is a result, not how it is found: temperatures are summed up here, losses integrated there.
  [[nodiscard]] double stored_J() const;
  /// Everything given to the surroundings through losses and walls since the start, J.
  [[nodiscard]] double lost_J() const;
  /// Heat that came in since the start, J (elements without a zone keep theirs out of it).
  [[nodiscard]] double given_J() const;

  /// How hot it is now.
  [[nodiscard]] ThermalState state() const;
  /// Goes on from a state of a plant built alike: as many zones and elements, the same dead times, as many
  /// cells in each wall. Heat is counted from there: stored, lost and given begin at 0 J. The integration
  /// begins a new step, so what comes is within its tolerance of what the other plant would have gone on to.
  void begin_at(const ThermalState& state);

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::plant

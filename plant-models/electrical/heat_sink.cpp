#include "plant-models/electrical/heat_sink.hpp"

#include <cmath>

namespace emberline::plant {

HeatSink::HeatSink(const HeatSinkParameters& parameters)
    : parameters_(parameters), temperature_degC_(parameters.ambient_degC) {}

void HeatSink::pass(double length_s, double loss_W) {
  const double resistance = parameters_.resistance_K_per_W * (fan_ ? 1.0 : parameters_.without_fan);
  const double end = parameters_.ambient_degC + loss_W * resistance;
  temperature_degC_ = end + (temperature_degC_ - end) *
                                std::exp(-length_s / (resistance * parameters_.heat_capacity_J_per_K));
}

}  // namespace emberline::plant

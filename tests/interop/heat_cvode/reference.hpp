#pragma once

#include <cstddef>
#include <functional>
#include <memory>
#include <vector>

namespace emberline::tests {

/// A furnace of one or two chambers as SUNDIALS' CVODE solves it (BDF, tight tolerances). The equations are
/// written anew from textbooks: nothing here comes from plant-models but what a bench file would say. Walls
/// have nodes on their faces and interfaces, evenly spaced, many more than the plant's cells.
class Reference {
 public:
  struct Layer {
    double thickness_m, conductivity, density, specific_heat;
    int intervals;
  };
  struct Chamber {
    double heat_capacity_J_per_K = 1.0;
    double loss_W_per_K = 0.0;
    double ambient_degC = 20.0;
    double start_degC = 20.0;
    double element_J_per_K = 1.0;
    double element_W_per_K = 0.0;
    double element_m2 = 0.0;
    double element_emissivity = 0.0;
    double wall_m2 = 0.0;
    double inside_film = 0.0;
    double outside_film = 0.0;
    std::vector<Layer> layers{};  ///< none: no wall
    std::function<double(double time_s)>
        power_W{};  ///< into the element; smooth between the instants it jumps at
  };
  struct Opening {
    double W_per_K, m2, emissivity;
  };
  Reference(std::vector<Chamber> chambers, Opening opening);
  ~Reference();

  /// Nothing jumps before `time_s`; powers may do so there.
  void advance_to(double time_s);
  [[nodiscard]] double zone_degC(std::size_t chamber) const;
  [[nodiscard]] double element_degC(std::size_t chamber) const;
  /// At the inside face (0), the first interface (1) and so on.
  [[nodiscard]] double face_degC(std::size_t chamber, std::size_t face) const;
  /// What all temperatures hold more than at the start.
  [[nodiscard]] double stored_J() const;

 private:
  class Solver;
  std::unique_ptr<Solver> solver_;
};

}  // namespace emberline::tests

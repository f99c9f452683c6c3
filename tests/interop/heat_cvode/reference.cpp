#include "tests/interop/heat_cvode/reference.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <string>
#include <utility>

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

namespace emberline::tests {
namespace {

/// Stefan and Boltzmann's constant from k, h and c.
double stefan_boltzmann() {
  const double k = 1.380649e-23;
  const double h = 6.62607015e-34;
  const double c = 299'792'458.0;
  return 2.0 * std::pow(std::numbers::pi, 5) * std::pow(k, 4) / (15.0 * std::pow(h, 3) * c * c);
}

double radiated_W(double area_m2, double emissivity, double a_degC, double b_degC) {
  return emissivity * stefan_boltzmann() * area_m2 *
         (std::pow(a_degC + 273.15, 4) - std::pow(b_degC + 273.15, 4));
}

void demand(bool good, const char* what) {
  if (!good) throw std::runtime_error(std::string("CVODE: ") + what);
}

}  // namespace

/// Unknowns stand so that what exchanges heat is at most two places apart: first wall from outside in, its
/// element, first zone, second zone, its element, second wall from inside out.
class Reference::Solver {
 public:
  Solver(std::vector<Chamber> chambers, Opening opening);
  Solver(const Solver&) = delete;
  Solver& operator=(const Solver&) = delete;
  ~Solver();

  void advance_to(double time_s);
  [[nodiscard]] double value(std::size_t place) const {
    return NV_Ith_S(state_, static_cast<sunindextype>(place));
  }
  [[nodiscard]] double stored_J() const;

  struct Places {
    std::size_t zone, element;
    std::vector<std::size_t> wall;   ///< from inside out
    std::vector<std::size_t> faces;  ///< those of them on a face or interface
  };
  std::vector<Places> places;

 private:
  struct Link {
    std::size_t a, b;
    double W_per_K;
  };
  void place_all();
  void build_wall(std::size_t chamber);
  void slopes(double time_s, const double* value, double* out) const;
  static int slopes_for_cvode(sunrealtype time_s, N_Vector value, N_Vector out, void* self);
  void start_cvode();

  std::vector<Chamber> chambers_;
  Opening opening_;
  std::vector<double> heat_capacity_J_per_K_;
  std::vector<double> start_degC_;
  std::vector<Link> links_;
  SUNContext context_ = nullptr;
  N_Vector state_ = nullptr;
  void* cvode_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver linear_ = nullptr;
  double now_s_ = 0.0;
  double before_s_ = 0.0;  ///< just before the instant that is gone to, where powers may jump
};

Reference::Solver::Solver(std::vector<Chamber> chambers, Opening opening)
    : chambers_(std::move(chambers)), opening_(opening) {
  place_all();
  for (std::size_t i = 0; i < chambers_.size(); ++i) {
    const Chamber& own = chambers_[i];
    heat_capacity_J_per_K_[places[i].zone] = own.heat_capacity_J_per_K;
    heat_capacity_J_per_K_[places[i].element] = own.element_J_per_K;
    start_degC_[places[i].zone] = start_degC_[places[i].element] = own.start_degC;
    links_.push_back({places[i].element, places[i].zone, own.element_W_per_K});
    if (!own.layers.empty()) build_wall(i);
  }
  start_cvode();
}

void Reference::Solver::place_all() {
  std::size_t count = 0;
  const auto wall_nodes = [&](std::size_t chamber) {
    std::size_t nodes = chambers_[chamber].layers.empty() ? 0 : 1;
    for (const auto& layer : chambers_[chamber].layers) nodes += static_cast<std::size_t>(layer.intervals);
    return nodes;
  };
  places.resize(chambers_.size());
  for (std::size_t node = wall_nodes(0); node > 0; --node) places[0].wall.push_back(node - 1);
  count = wall_nodes(0);
  places[0].element = count++;
  places[0].zone = count++;
  if (chambers_.size() > 1) {
    places[1].zone = count++;
    places[1].element = count++;
    for (std::size_t node = wall_nodes(1); node > 0; --node) places[1].wall.push_back(count++);
  }
  heat_capacity_J_per_K_.assign(count, 0.0);
  start_degC_.assign(count, 0.0);
}

void Reference::Solver::build_wall(std::size_t chamber) {
  const Chamber& own = chambers_[chamber];
  auto& wall = places[chamber].wall;
  std::vector<double> from_zone_K_per_W{1.0 / (own.inside_film * own.wall_m2)};
  links_.push_back({wall[0], places[chamber].zone, own.inside_film * own.wall_m2});
  places[chamber].faces.push_back(wall[0]);
  std::size_t node = 0;
  for (const auto& layer : own.layers) {
    const double width_m = layer.thickness_m / layer.intervals;
    for (int i = 0; i < layer.intervals; ++i, ++node) {
      const double half_J_per_K = 0.5 * width_m * own.wall_m2 * layer.density * layer.specific_heat;
      heat_capacity_J_per_K_[wall[node]] += half_J_per_K;
      heat_capacity_J_per_K_[wall[node + 1]] += half_J_per_K;
      const double W_per_K = layer.conductivity * own.wall_m2 / width_m;
      links_.push_back({wall[node], wall[node + 1], W_per_K});
      from_zone_K_per_W.push_back(from_zone_K_per_W.back() + 1.0 / W_per_K);
    }
    places[chamber].faces.push_back(wall[node]);
  }
  const double whole_K_per_W = from_zone_K_per_W.back() + 1.0 / (own.outside_film * own.wall_m2);
  for (std::size_t i = 0; i < wall.size(); ++i)
    start_degC_[wall[i]] =
        own.start_degC + (own.ambient_degC - own.start_degC) * from_zone_K_per_W[i] / whole_K_per_W;
}

void Reference::Solver::slopes(double time_s, const double* value, double* out) const {
  for (std::size_t i = 0; i < start_degC_.size(); ++i) out[i] = 0.0;
  const auto flow = [&](std::size_t a, std::size_t b, double heat_W) {
    out[a] -= heat_W;
    out[b] += heat_W;
  };
  for (const auto& link : links_) flow(link.a, link.b, link.W_per_K * (value[link.a] - value[link.b]));
  for (std::size_t i = 0; i < chambers_.size(); ++i) {
    const Chamber& own = chambers_[i];
    const auto& at = places[i];
    flow(at.element, at.zone,
         radiated_W(own.element_m2, own.element_emissivity, value[at.element], value[at.zone]));
    out[at.element] += own.power_W(std::min(time_s, before_s_));
    out[at.zone] -= own.loss_W_per_K * (value[at.zone] - own.ambient_degC);
    if (!at.wall.empty())
      out[at.wall.back()] -= own.outside_film * own.wall_m2 * (value[at.wall.back()] - own.ambient_degC);
  }
  if (chambers_.size() > 1)
    flow(places[0].zone, places[1].zone,
         opening_.W_per_K * (value[places[0].zone] - value[places[1].zone]) +
             radiated_W(opening_.m2, opening_.emissivity, value[places[0].zone], value[places[1].zone]));
  for (std::size_t i = 0; i < start_degC_.size(); ++i) out[i] /= heat_capacity_J_per_K_[i];
}

int Reference::Solver::slopes_for_cvode(sunrealtype time_s, N_Vector value, N_Vector out, void* self) {
  static_cast<const Solver*>(self)->slopes(time_s, NV_DATA_S(value), NV_DATA_S(out));
  return 0;
}

void Reference::Solver::start_cvode() {
  const auto count = static_cast<sunindextype>(start_degC_.size());
  demand(SUNContext_Create(0, &context_) == 0, "no context");
  state_ = N_VNew_Serial(count, context_);
  demand(state_ != nullptr, "no vector");
  for (std::size_t i = 0; i < start_degC_.size(); ++i)
    NV_Ith_S(state_, static_cast<sunindextype>(i)) = start_degC_[i];
  cvode_ = CVodeCreate(CV_BDF, context_);
  demand(cvode_ != nullptr, "no solver");
  demand(CVodeInit(cvode_, slopes_for_cvode, 0.0, state_) == CV_SUCCESS, "no start");
  demand(CVodeSStolerances(cvode_, 1e-9, 1e-7) == CV_SUCCESS, "no tolerances");
  demand(CVodeSetUserData(cvode_, this) == CV_SUCCESS, "no data");
  demand(CVodeSetMaxNumSteps(cvode_, 1'000'000) == CV_SUCCESS, "no number of steps");
  matrix_ = SUNBandMatrix(count, 2, 2, context_);
  linear_ = SUNLinSol_Band(state_, matrix_, context_);
  demand(matrix_ != nullptr && linear_ != nullptr, "no linear solver");
  demand(CVodeSetLinearSolver(cvode_, linear_, matrix_) == CV_SUCCESS, "linear solver refused");
}

Reference::Solver::~Solver() {
  CVodeFree(&cvode_);
  SUNLinSolFree(linear_);
  SUNMatDestroy(matrix_);
  N_VDestroy(state_);
  SUNContext_Free(&context_);
}

void Reference::Solver::advance_to(double time_s) {
  before_s_ = time_s * (1.0 - 1e-12);
  demand(CVodeReInit(cvode_, now_s_, state_) == CV_SUCCESS, "no new start");
  demand(CVodeSetStopTime(cvode_, time_s) == CV_SUCCESS, "no stop time");
  sunrealtype reached_s = now_s_;
  demand(CVode(cvode_, time_s, state_, &reached_s, CV_NORMAL) >= 0, "step failed");
  now_s_ = time_s;
}

double Reference::Solver::stored_J() const {
  double sum_J = 0.0;
  for (std::size_t i = 0; i < start_degC_.size(); ++i)
    sum_J += heat_capacity_J_per_K_[i] * (value(i) - start_degC_[i]);
  return sum_J;
}

Reference::Reference(std::vector<Chamber> chambers, Opening opening)
    : solver_(std::make_unique<Solver>(std::move(chambers), opening)) {}
Reference::~Reference() = default;

void Reference::advance_to(double time_s) { solver_->advance_to(time_s); }
double Reference::zone_degC(std::size_t chamber) const {
  return solver_->value(solver_->places[chamber].zone);
}
double Reference::element_degC(std::size_t chamber) const {
  return solver_->value(solver_->places[chamber].element);
}
double Reference::face_degC(std::size_t chamber, std::size_t face) const {
  return solver_->value(solver_->places[chamber].faces[face]);
}
double Reference::stored_J() const { return solver_->stored_J(); }

}  // namespace emberline::tests

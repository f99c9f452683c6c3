#include "tests/interop/ngspice/compare.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <iomanip>
#include <sstream>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/support/this_build.hpp"

namespace emberline::spice {
namespace {

struct Quantity {
  std::string kind;
  std::string name;
  double value;
};

std::vector<Quantity> quantities_of(const PowerStage& stage, const plant::NetworkResult& result,
                                    std::size_t cycle) {
  std::vector<Quantity> all;
  const auto add = [&](const std::string& where, const std::string& kind, std::size_t k, double value) {
    all.push_back({kind,
                   "cycle " + std::to_string(cycle + 1) + where + " " + kind + " " + std::to_string(k + 1),
                   value});
  };
  for (std::size_t l = 0; l < result.loads.size(); ++l) {
    const auto& load = result.loads[l];
    const std::string where = " load " + std::to_string(l + 1);
    for (std::size_t k = 0; k < 3; ++k) {
      add(where, "leg V", k, load.legs[k].voltage_V);
      add(where, "leg A", k, load.legs[k].current_A);
      add(where, "leg W", k, load.legs[k].power_W);
      add(where, "line A", k, load.line_current_A[k]);
      add(where, "line W", k, load.line_power_W[k]);
      add(where, "pair mean A", k, load.pairs[k].mean_A);
      add(where, "pair dc A", k, load.pairs[k].dc_A);
      add(where, "pair peak A", k, load.pairs[k].peak_A);
    }
    add(where, "line A", 3, load.neutral_current_A);
  }
  for (std::size_t k = 0; k < 3; ++k) {
    if (!stage.supply_state.open[k])  // else it floats
      add("", "busbar V", k, result.supply_voltage_V[k]);
    add("", "supply A", k, result.supply_current_A[k]);
  }
  add("", "supply A", 3, result.supply_neutral_A);
  return all;
}

std::vector<plant::NetworkResult> our_cycles(const Case& one) {
  plant::Network network(one.stage.supply, one.stage.loads);
  std::vector<plant::NetworkResult> results;
  plant::NetworkResult result;
  for (std::size_t cycle = 0; cycle < one.stage.cycles.size(); ++cycle) {
    if (cycle > 0) network.next_cycle();
    network.solve(one.stage.supply_state, one.stage.cycles[cycle], result);
    if (cycle >= one.first) results.push_back(result);
  }
  CHECK(network.gave_up() == 0);
  return results;
}

/// In A. Below it nothing is asked of a current; 100 times the number for voltages, 200 times for powers.
constexpr double kNothing = 0.05;
/// Likewise, as a share of the largest value of its kind.
constexpr double kLittle = 0.02;

/// What the deviation of a quantity is a share of: it, or what would be little of its kind in all cycles. A
/// direct current is one of the mean magnitude.
double measure_of(const std::vector<std::vector<Quantity>>& cycles, const Quantity& quantity) {
  const bool direct = quantity.kind == "pair dc A";
  double largest = 0.0;
  for (const auto& cycle : cycles)
    for (const auto& other : cycle)
      if (other.kind == (direct ? "pair mean A" : quantity.kind))
        largest = std::max(largest, std::abs(other.value));
  const char unit = quantity.kind.back();
  const double times = unit == 'A' ? 1.0 : unit == 'V' ? 100.0 : 200.0;
  return std::max({std::abs(quantity.value), (direct ? 20.0 : 1.0) * kLittle * largest, kNothing * times});
}

}  // namespace

Deviation compare(const Case& one) {
  const auto theirs = simulate_cycles(one.stage, one.first);
  const auto ours = our_cycles(one);
  REQUIRE(ours.size() == theirs.size());
  std::vector<std::vector<Quantity>> mine, other;
  for (std::size_t cycle = 0; cycle < ours.size(); ++cycle) {
    mine.push_back(quantities_of(one.stage, ours[cycle], one.first + cycle));
    other.push_back(quantities_of(one.stage, theirs[cycle], one.first + cycle));
  }
  Deviation worst;
  const bool verbose = std::getenv("EMBERLINE_SHOW_CIRCUITS") != nullptr;
  for (std::size_t cycle = 0; cycle < other.size(); ++cycle) {
    REQUIRE(mine[cycle].size() == other[cycle].size());
    for (std::size_t k = 0; k < other[cycle].size(); ++k) {
      const double a = mine[cycle][k].value, b = other[cycle][k].value;
      const double share = std::abs(a - b) / measure_of(other, other[cycle][k]);
      if (verbose && (a != 0.0 || std::abs(b) > 1e-3))
        MESSAGE(one.name << ": " << other[cycle][k].name << ": " << a << " " << b << " " << 100.0 * share
                         << " %");
      // Written so that what is not a number is the worst of all.
      if (!(share <= worst.share)) worst = {other[cycle][k].name, a, b, share};
    }
  }
  return worst;
}

void check_all(const std::vector<Case>& cases, double limit) {
  std::ostringstream table;
  for (std::size_t i = 0; i < cases.size(); i += testing::long_run() ? 1 : 2) {
    const Case& one = cases[i];
    CAPTURE(one.name);
    const Deviation worst = compare(one);
    CAPTURE(worst.quantity);
    CAPTURE(worst.ours);
    CAPTURE(worst.theirs);
    CHECK(worst.share <= limit);
    table << "\n"
          << std::left << std::setw(62) << one.name << std::right << std::setw(10) << std::fixed
          << std::setprecision(3) << 100.0 * worst.share << " %  " << std::defaultfloat
          << std::setprecision(6) << worst.ours << " for " << worst.theirs << ", " << worst.quantity;
  }
  MESSAGE("largest deviation from ngspice:" << table.str());
}

Case steady(const std::string& name, const plant::SupplyParameters& supply,
            const std::vector<plant::LoadParameters>& loads, double angle_deg, std::size_t cycles) {
  Case one;
  one.name = name;
  one.stage.supply = supply;
  one.stage.supply_state.frequency_Hz = supply.frequency_Hz;
  one.stage.loads = loads;
  plant::Conduction state;
  state.firing_angle_deg = angle_deg;
  one.stage.cycles.assign(cycles, std::vector<plant::Conduction>(loads.size(), state));
  one.first = cycles - 1;
  const bool three_phase = supply.system == plant::System::three_phase;
  const bool inductive = loads.front().inductance_H[0] > 0.0;
  if (three_phase || cycles > 10) one.stage.step_s = 10e-6;
  if (!three_phase && inductive && cycles <= 10) one.stage.step_s = 3e-6;
  return one;
}

plant::SupplyParameters mains(double resistance_ohm, double inductance_H) {
  plant::SupplyParameters supply;
  supply.resistance_ohm = resistance_ohm;
  supply.inductance_H = inductance_H;
  return supply;
}

plant::SupplyParameters single_phase(double voltage_V, double frequency_Hz) {
  plant::SupplyParameters supply;
  supply.system = plant::System::single_phase;
  supply.voltage_V = voltage_V;
  supply.frequency_Hz = frequency_Hz;
  return supply;
}

plant::LoadParameters load_of(plant::Connection connection, std::array<double, 3> ohm,
                              std::array<double, 3> henry) {
  plant::LoadParameters load;
  load.connection = connection;
  load.material = plant::find_material("constant");
  load.cold_resistance_ohm = ohm;
  load.inductance_H = henry;
  return load;
}

}  // namespace emberline::spice

#pragma once

#include <string>
#include <vector>

namespace emberline::spice {

/// One quantity over time, straight lines between the points of time of its Solution.
using Signal = std::vector<double>;

/// What ngspice found: quantities over time. Between two points everything is taken as a straight line, and
/// integrated without further error.
class Solution {
 public:
  Solution() = default;
  Solution(std::vector<double> times_s, std::vector<std::string> names, std::vector<Signal> signals);

  /// A quantity by the name it was asked for; fails the test when there is none.
  [[nodiscard]] const Signal& operator[](const std::string& name) const;
  [[nodiscard]] Signal difference(const std::string& name, const std::string& minus) const;
  [[nodiscard]] Signal sum(const std::vector<std::string>& names) const;

  [[nodiscard]] double at(const Signal& signal, double time_s) const;
  [[nodiscard]] double rms(const Signal& signal, double from_s, double to_s) const;
  [[nodiscard]] double mean(const Signal& signal, double from_s, double to_s) const;
  [[nodiscard]] double mean_magnitude(const Signal& signal, double from_s, double to_s) const;
  /// Mean of the product of two quantities.
  [[nodiscard]] double mean_of(const Signal& a, const Signal& b, double from_s, double to_s) const;
  /// The largest magnitude that lasts: single points next to a switching instant may be far off.
  [[nodiscard]] double peak(const Signal& signal, double from_s, double to_s) const;
  [[nodiscard]] std::size_t points() const { return times_s_.size(); }

 private:
  template <class Piece>
  double mean_of_pieces(double from_s, double to_s, Piece piece) const;

  std::vector<double> times_s_;
  std::vector<std::string> names_;
  std::vector<Signal> signals_;
};

/// A circuit in ngspice's own words, without title and end.
struct Circuit {
  std::vector<std::string> lines;
  std::vector<std::string> asked;  ///< vectors to be written, such as v(node) and i(vsource)
  double end_s = 0.1;
  double keep_from_s = 0.0;  ///< earlier points are not written
  double step_s = 5e-6;      ///< the longest
};

/// Has ngspice solve a circuit that is without current and charge at time 0, in a folder of its own. Fails
/// the test, with ngspice's own words, when it does not get to the end.
[[nodiscard]] Solution simulate(const Circuit& circuit);

}  // namespace emberline::spice

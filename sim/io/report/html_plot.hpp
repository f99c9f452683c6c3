#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/io/report/plot_scale.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::io {

/// A vertical line through all plots of a rehearsal: an event, or the instant at which something failed.
struct PlotLine {
  SimTime at;
  std::string label;  ///< "3", "F1"; the list of events says what it is
  bool failure = false;
};

/// What all plots of one rehearsal have in common.
struct PlotFrame {
  TimeScale time;
  SimTime ends;
  std::vector<PlotLine> lines;  ///< in the order of time

  static constexpr double kWidth = 860.0;
  static constexpr double kLeft = 58.0;
  static constexpr double kRight = 640.0;  ///< names of curves stand to the right of it
  static constexpr double kTop = 28.0;     ///< labels of lines stand above it
  [[nodiscard]] double x(SimTime at) const;
};

/// A coordinate, to a tenth of a pixel.
[[nodiscard]] std::string coordinate(double value);
/// An SVG as high as `height` below the frame's top, with the time axis and the lines; `inside` goes between.
[[nodiscard]] std::string plot_svg(const PlotFrame& frame, double height, std::string_view description,
                                   const std::string& inside);

/// Quantities of one unit of measure, four at most.
[[nodiscard]] std::string plot_curves(const PlotFrame& frame,
                                      const std::vector<const rehearsal::Trend*>& curves);
/// States and switches, a lane each.
[[nodiscard]] std::string plot_lanes(const PlotFrame& frame,
                                     const std::vector<const rehearsal::Trend*>& lanes);

}  // namespace emberline::io

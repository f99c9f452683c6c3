#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/base/quantity.hpp"
#include "sim/io/report/html_plot.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Trend;

constexpr double kHeight = 150.0;
constexpr double kLineOfText = 13.0;
constexpr std::size_t kLongName = 29;  // characters beside a plot
constexpr double kNameRoom = 196.0;

struct Heights {
  ValueScale scale;
  [[nodiscard]] double y(double value) const {
    return PlotFrame::kTop + kHeight * (scale.top - value) / (scale.top - scale.bottom);
  }
};

Heights heights_of(const std::vector<const Trend*>& curves) {
  double lowest = std::numeric_limits<double>::infinity();
  double highest = -lowest;
  for (const auto* curve : curves) {
    for (const auto& point : curve->points) {
      lowest = std::fmin(lowest, point.low);
      highest = std::fmax(highest, point.high);
    }
  }
  if (!std::isfinite(lowest)) return {value_scale(0.0, 0.0)};
  // From zero, unless that would press the curve flat: so bars of one report can be compared.
  if (lowest > 0.0 && lowest < 0.5 * highest) lowest = 0.0;
  return {value_scale(lowest, highest)};
}

std::string value_axis(const Heights& heights) {
  std::string text;
  const auto& scale = heights.scale;
  const auto count = static_cast<int>(std::lround((scale.top - scale.bottom) / scale.step));
  for (int i = 0; i <= count; ++i) {
    const double value = scale.bottom + i * scale.step;
    const auto y = coordinate(heights.y(value));
    const double digits = std::pow(10.0, 2.0 - std::floor(std::log10(scale.step)));
    text += "<path class=\"grid\" d=\"M" + coordinate(PlotFrame::kLeft) + " " + y + "H" +
            coordinate(PlotFrame::kRight) + "\"/><text class=\"axis\" x=\"" +
            coordinate(PlotFrame::kLeft - 6.0) + "\" y=\"" + coordinate(heights.y(value) + 4.0) +
            "\" text-anchor=\"end\">" + format_number(std::round(value * digits) / digits) + "</text>";
  }
  return text + "\n";
}

struct Corner {
  SimTime at;
  double value = 0.0;  ///< NaN: a gap
};

/// From point to point, and through the whole of what a point covers. A gap where there is no value.
std::vector<Corner> corners_of(const Trend& trend) {
  std::vector<Corner> corners;
  double last = 0.0;
  for (const auto& point : trend.points) {
    const bool falls = std::fabs(point.high - last) < std::fabs(point.low - last);
    corners.push_back({point.at, falls ? point.high : point.low});
    if (point.low != point.high && !std::isnan(point.low))
      corners.push_back({point.at, falls ? point.low : point.high});
    if (!std::isnan(point.low)) last = corners.back().value;
  }
  return corners;
}

std::string path_of(const PlotFrame& frame, const Heights& heights, const std::vector<Corner>& corners) {
  std::string path;
  std::string last;
  for (const auto& corner : corners) {
    if (std::isnan(corner.value)) {
      last.clear();
      continue;
    }
    auto here = coordinate(frame.x(corner.at)) + " " + coordinate(heights.y(corner.value));
    if (here == last) continue;
    path += (last.empty() ? "M" : "L") + here;
    last = std::move(here);
  }
  return path;
}

/// What tells curves apart on paper: disc, square, triangle, diamond.
std::string marker(std::size_t number, double x, double y) {
  static constexpr std::array<std::string_view, 4> kShapes{"m-3.4 0a3.4 3.4 0 1 0 6.8 0a3.4 3.4 0 1 0-6.8 0z",
                                                           "m-3-3h6v6h-6z", "m0-4l4 7h-8z",
                                                           "m0-4.4l4.4 4.4-4.4 4.4-4.4-4.4z"};
  return "<path class=\"f" + std::to_string(number) + "\" d=\"M" + coordinate(x) + " " + coordinate(y) +
         std::string(kShapes.at(number)) + "\"/>";
}

/// The value at an instant, on the line between the corners around it; NaN where there is none.
double value_at(const std::vector<Corner>& corners, SimTime at) {
  const auto after = std::lower_bound(corners.begin(), corners.end(), at,
                                      [](const Corner& corner, SimTime t) { return corner.at < t; });
  if (after == corners.end()) return std::numeric_limits<double>::quiet_NaN();
  if (after == corners.begin() || after->at == at) return after->value;
  const auto before = after - 1;
  const double share = to_seconds(at - before->at) / to_seconds(after->at - before->at);
  return before->value + (after->value - before->value) * share;
}

std::string markers_of(const PlotFrame& frame, const Heights& heights, const std::vector<Corner>& corners,
                       std::size_t number) {
  std::string text;
  constexpr int kMarkers = 5;
  for (int i = 0; i < kMarkers; ++i) {
    const double share = (i + 0.25 + 0.17 * static_cast<double>(number)) / kMarkers;
    const SimTime at{from_seconds(to_seconds(frame.ends) * share)};
    const double value = value_at(corners, at);
    if (std::isfinite(value)) text += marker(number, frame.x(at), heights.y(value));
  }
  return text;
}

/// Names beside the ends of their curves, moved apart where they would stand on each other.
std::string names_of(const Heights& heights, const std::vector<const Trend*>& curves) {
  struct Label {
    std::size_t number;
    double end;
    double y;
  };
  std::vector<Label> labels;
  for (std::size_t i = 0; i < curves.size(); ++i) {
    const auto& last = curves[i]->points.back();
    const double middle = (last.low + last.high) / 2.0;
    const double y = std::isfinite(middle) ? heights.y(middle) : PlotFrame::kTop + kHeight / 2.0;
    labels.push_back({i, y, y});
  }
  std::stable_sort(labels.begin(), labels.end(), [](const Label& a, const Label& b) { return a.y < b.y; });
  double free = PlotFrame::kTop + 4.0;
  for (auto& label : labels) {
    label.y = std::max(label.y, free);
    free = label.y + kLineOfText;
  }
  double limit = PlotFrame::kTop + kHeight;
  for (auto label = labels.rbegin(); label != labels.rend(); ++label) {
    label->y = std::min(label->y, limit);
    limit = label->y - kLineOfText;
  }
  std::string text;
  for (const auto& label : labels) {
    const auto& name = curves[label.number]->signal;
    const std::string fit = name.size() > kLongName ? " textLength=\"" + coordinate(kNameRoom) +
                                                          "\" lengthAdjust=\"spacingAndGlyphs\""
                                                    : "";
    text += "<path class=\"lead k" + std::to_string(label.number) + "\" d=\"M" +
            coordinate(PlotFrame::kRight) + " " + coordinate(label.end) + "L" +
            coordinate(PlotFrame::kRight + 10.0) + " " + coordinate(label.y) + "\"/>" +
            marker(label.number, PlotFrame::kRight + 12.0, label.y) + "<text x=\"" +
            coordinate(PlotFrame::kRight + 20.0) + "\" y=\"" + coordinate(label.y + 4.0) + "\"" + fit + ">" +
            escaped(name) + "</text>\n";
  }
  return text;
}

}  // namespace

std::string plot_curves(const PlotFrame& frame, const std::vector<const Trend*>& curves) {
  const auto heights = heights_of(curves);
  std::string inside = value_axis(heights);
  std::string description = "Over time, in " + curves.front()->unit + ":";
  for (std::size_t i = 0; i < curves.size(); ++i) {
    const auto corners = corners_of(*curves[i]);
    inside += "<path class=\"curve k" + std::to_string(i) + "\" d=\"" + path_of(frame, heights, corners) +
              "\"/>" + markers_of(frame, heights, corners, i) + "\n";
    description += (i == 0 ? " " : ", ") + curves[i]->signal;
  }
  return plot_svg(frame, kHeight, description, inside + names_of(heights, curves));
}

}  // namespace emberline::io

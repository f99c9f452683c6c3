#include <algorithm>

#include "sim/base/quantity.hpp"
#include "sim/io/report/html_plot.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Trend;

constexpr double kLane = 22.0;
constexpr double kBand = 16.0;
constexpr double kCharacter = 6.9;     // width of one, about
constexpr std::size_t kLongName = 29;  // characters beside a plot
constexpr double kNameRoom = 196.0;

std::string name_of(const Trend& trend, double value) {
  for (const auto& name : trend.names)
    if (name.value == value) return name.name;
  return format_number(value);
}

/// An empty band for what is off or none; two washes in turn for the rest.
std::string_view fill_of(const Trend& trend, double value) {
  if (value == 0.0 && (name_of(trend, value) == "off" || name_of(trend, value) == "none"))
    return "fill=\"none\"";
  std::size_t place = 0;
  for (std::size_t i = 0; i < trend.names.size(); ++i)
    if (trend.names[i].value == value) place = i;
  return place % 2 == 0 ? "class=\"la\"" : "class=\"lb\"";
}

std::string band(const PlotFrame& frame, const Trend& trend, std::size_t i, double top) {
  const auto& point = trend.points[i];
  const auto until = i + 1 < trend.points.size() ? trend.points[i + 1].at : frame.ends;
  const double left = frame.x(point.at);
  const double width = std::max(frame.x(until) - left, 0.4);
  const bool restless = point.low != point.high;
  const auto name = restless ? name_of(trend, point.low) + " and " + name_of(trend, point.high) + " in turn"
                             : name_of(trend, point.low);
  std::string text = "<g><title>" + escaped(name) + " from " + time_text(point.at) + " to " +
                     time_text(until) + "</title><rect " +
                     std::string(restless ? "class=\"restless\"" : fill_of(trend, point.low)) + " x=\"" +
                     coordinate(left) + "\" y=\"" + coordinate(top) + "\" width=\"" + coordinate(width) +
                     "\" height=\"" + coordinate(kBand) + "\"/>";
  if (i > 0)
    text += "<path class=\"lane\" d=\"M" + coordinate(left) + " " + coordinate(top) + "v" +
            coordinate(kBand) + "\"/>";
  if (!restless && width > kCharacter * static_cast<double>(name.size()) + 6.0)
    text += "<text x=\"" + coordinate(left + 4.0) + "\" y=\"" + coordinate(top + 12.0) + "\">" +
            escaped(name) + "</text>";
  return text + "</g>";
}

}  // namespace

std::string plot_lanes(const PlotFrame& frame, const std::vector<const Trend*>& lanes) {
  std::string inside;
  std::string description = "States over time:";
  double top = PlotFrame::kTop + 4.0;
  for (const auto* lane : lanes) {
    for (std::size_t i = 0; i < lane->points.size(); ++i) inside += band(frame, *lane, i, top);
    const std::string fit = lane->signal.size() > kLongName ? " textLength=\"" + coordinate(kNameRoom) +
                                                                  "\" lengthAdjust=\"spacingAndGlyphs\""
                                                            : "";
    inside += "<path class=\"lane\" fill=\"none\" d=\"M" + coordinate(PlotFrame::kLeft) + " " +
              coordinate(top) + "H" + coordinate(PlotFrame::kRight) + "m0 " + coordinate(kBand) + "H" +
              coordinate(PlotFrame::kLeft) + "\"/><text x=\"" + coordinate(PlotFrame::kRight + 10.0) +
              "\" y=\"" + coordinate(top + 12.0) + "\"" + fit + ">" + escaped(lane->signal) + "</text>\n";
    description += (lane == lanes.front() ? " " : ", ") + lane->signal;
    top += kLane;
  }
  return plot_svg(frame, kLane * static_cast<double>(lanes.size()) + 2.0, description, inside);
}

}  // namespace emberline::io

#include <algorithm>
#include <cmath>

#include "sim/base/quantity.hpp"
#include "sim/io/report/html_plot.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

/// Labels of lines nearer than this would be one blot.
constexpr double kLabelRoom = 26.0;

std::string line_element(std::string_view kind, double x, double top, double bottom) {
  return "<path class=\"" + std::string(kind) + "\" d=\"M" + coordinate(x) + " " + coordinate(top) + "V" +
         coordinate(bottom) + "\"/>";
}

std::string text_element(std::string_view kind, double x, double y, std::string_view anchor,
                         std::string_view text) {
  return "<text class=\"" + std::string(kind) + "\" x=\"" + coordinate(x) + "\" y=\"" + coordinate(y) +
         "\" text-anchor=\"" + std::string(anchor) + "\">" + escaped(text) + "</text>";
}

std::string time_axis(const PlotFrame& frame, double bottom) {
  std::string text;
  for (const auto& tick : frame.time.ticks) {
    const double x = frame.x(tick.at);
    text += line_element("grid", x, PlotFrame::kTop, bottom) +
            text_element("axis", x, bottom + 14.0, "middle", tick.label);
  }
  return text + text_element("axis", PlotFrame::kRight + 24.0, bottom + 14.0, "start", frame.time.unit) +
         "\n";
}

/// The labels of the lines of one kind, those that would stand on each other as "2-5".
std::string line_labels(const PlotFrame& frame, bool failures) {
  std::string text;
  const auto& lines = frame.lines;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (lines[i].failure != failures) continue;
    const double x = frame.x(lines[i].at);
    std::size_t last = i;
    for (std::size_t next = i + 1; next < lines.size() && frame.x(lines[next].at) < x + kLabelRoom; ++next)
      if (lines[next].failure == failures) last = next;
    const auto label = lines[i].label + (last == i ? "" : "-" + lines[last].label);
    text += text_element(failures ? "failtext" : "strong", x, failures ? 23.0 : 11.0, "middle", label);
    i = last;
  }
  return text;
}

/// Events, whose labels stand on the upper row, and failures on the lower one.
std::string event_lines(const PlotFrame& frame, double bottom) {
  std::string text;
  for (const auto& line : frame.lines) {
    const double x = frame.x(line.at);
    if (line.failure)
      text += "<path class=\"failband\" d=\"M" + coordinate(x - 4.0) + " " + coordinate(PlotFrame::kTop) +
              "h8V" + coordinate(bottom) + "h-8z\"/>";
    text += line_element(line.failure ? "fail" : "mark", x, PlotFrame::kTop - 3.0, bottom);
  }
  return text + line_labels(frame, false) + line_labels(frame, true) + "\n";
}

}  // namespace

double PlotFrame::x(SimTime at) const {
  const double length = std::max(to_seconds(ends), 1e-3);
  return kLeft + (kRight - kLeft) * std::clamp(to_seconds(at) / length, 0.0, 1.0);
}

std::string coordinate(double value) { return format_number(std::round(value * 10.0) / 10.0); }

std::string plot_svg(const PlotFrame& frame, double height, std::string_view description,
                     const std::string& inside) {
  const double bottom = PlotFrame::kTop + height;
  return "<svg class=\"plot\" viewBox=\"0 0 " + coordinate(PlotFrame::kWidth) + " " +
         coordinate(bottom + 20.0) + "\" role=\"img\"><title>" + escaped(description) + "</title>\n" +
         time_axis(frame, bottom) + inside + event_lines(frame, bottom) + "<path class=\"frame\" d=\"M" +
         coordinate(PlotFrame::kLeft) + " " + coordinate(PlotFrame::kTop) + "H" +
         coordinate(PlotFrame::kRight) + "V" + coordinate(bottom) + "H" + coordinate(PlotFrame::kLeft) +
         "z\"/></svg>\n";
}

}  // namespace emberline::io

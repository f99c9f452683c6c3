#include "sim/io/report/html_plot.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/quantity.hpp"
#include "sim/io/report/html.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Outcome;
using rehearsal::Trend;
using rehearsal::Verdict;

constexpr std::size_t kCurves = 4;       // of one plot
constexpr std::size_t kMarksNamed = 60;  // in the list under the plots
/// Parts share a plot when it need not be more than so many times as high for it.
constexpr double kStretch = 4.0;

struct Extent {
  double lowest = std::numeric_limits<double>::infinity();
  double highest = -std::numeric_limits<double>::infinity();
};

Extent extent_of(const Trend& trend) {
  Extent extent;
  for (const auto& point : trend.points) {
    extent.lowest = std::fmin(extent.lowest, point.low);
    extent.highest = std::fmax(extent.highest, point.high);
  }
  return extent;
}

/// What moves less is level, whatever it is relative to: a zone that nobody heats cools, and contacts leak.
double smallest_move(const std::string& unit) {
  if (unit == "degC") return 2.0;
  if (unit == "%") return 0.1;
  return unit == "kW" ? 0.02 : 0.0;
}

/// Nothing that a plot could show happens to it.
bool is_level(const Trend& trend) {
  const bool gaps = std::any_of(trend.points.begin(), trend.points.end(),
                                [](const Trend::Point& point) { return std::isnan(point.low); });
  const auto extent = extent_of(trend);
  if (gaps || trend.points.empty()) return trend.points.empty();
  const double move = extent.highest - extent.lowest;
  if (!trend.names.empty()) return move == 0.0;
  return move <= std::fmax(smallest_move(trend.unit), 1e-3 * std::fabs(extent.highest));
}

std::string level_words(const Trend& trend) {
  const double value = trend.points.back().high;
  for (const auto& name : trend.names)
    if (name.value == value) return trend.signal + " " + name.name;
  const double shown = trend.unit == "degC" ? std::round(value) : std::round(value * 100.0) / 100.0;
  return trend.signal + " " + format_number(shown) + (trend.unit.empty() ? "" : " " + trend.unit);
}

std::string_view head_of(std::string_view signal) { return signal.substr(0, signal.find('.')); }

using Group = std::vector<const Trend*>;

Extent joint(const Group& curves) {
  Extent extent;
  for (const auto* curve : curves) {
    const auto own = extent_of(*curve);
    extent.lowest = std::fmin(extent.lowest, own.lowest);
    extent.highest = std::fmax(extent.highest, own.highest);
  }
  return extent;
}

/// Together they would press neither flat. Powers and percentages stand on zero anyway.
bool fit_together(const Group& one, const Group& other) {
  if (one.size() + other.size() > kCurves) return false;
  if (one.front()->unit != "degC") return true;
  const auto height = [](const Extent& extent) { return extent.highest - extent.lowest; };
  auto both = one;
  both.insert(both.end(), other.begin(), other.end());
  return height(joint(both)) <= kStretch * std::fmin(height(joint(one)), height(joint(other)));
}

/// The curves of a unit of measure by the part of the bench they belong to, four at most in each.
std::vector<Group> parts_of(const Group& curves, const std::string& unit) {
  std::vector<Group> parts;
  for (const auto* curve : curves) {
    if (curve->unit != unit) continue;
    const auto part = std::find_if(parts.begin(), parts.end(), [&](const Group& other) {
      return head_of(other.front()->signal) == head_of(curve->signal) && other.size() < kCurves;
    });
    (part == parts.end() ? parts.emplace_back() : *part).push_back(curve);
  }
  return parts;
}

/// What stands in one plot each: one unit of measure, few curves, and parts of the bench not torn apart.
std::vector<Group> grouped(const Group& curves) {
  std::vector<std::string> units;
  for (const auto* curve : curves)
    if (std::find(units.begin(), units.end(), curve->unit) == units.end()) units.push_back(curve->unit);
  std::vector<Group> groups;
  for (const auto& unit : units) {
    const auto first = groups.size();
    for (const auto& part : parts_of(curves, unit)) {
      const auto group = std::find_if(groups.begin() + static_cast<std::ptrdiff_t>(first), groups.end(),
                                      [&](const Group& other) { return fit_together(other, part); });
      auto& into = group == groups.end() ? groups.emplace_back() : *group;
      into.insert(into.end(), part.begin(), part.end());
    }
  }
  return groups;
}

/// The lines through the plots, and the list that says what they are.
struct Events {
  std::vector<PlotLine> lines;
  std::string list;
};

Events events_of(const Verdict& verdict) {
  Events events;
  for (std::size_t i = 0; i < verdict.marks.size(); ++i) {
    const auto& mark = verdict.marks[i];
    const auto label = std::to_string(i + 1);
    events.lines.push_back({mark.at, label, false});
    if (i < kMarksNamed)
      events.list += "<li><b>" + label + "</b>" + time_text(mark.at) + " " + escaped(mark.text) +
                     (mark.by_human ? " (done by hand)" : "") + "</li>\n";
  }
  if (verdict.marks.size() > kMarksNamed)
    events.list += "<li>" + counted(verdict.marks.size() - kMarksNamed, "more") + " in the JSON</li>\n";
  int failures = 0;
  for (const auto& outcome : verdict.outcomes) {
    if (outcome.result != Outcome::Result::failed || !outcome.at) continue;
    const auto label = "F" + std::to_string(++failures);
    events.lines.push_back({*outcome.at, label, true});
    events.list += "<li class=\"bad\"><b>" + label + "</b>" + time_text(*outcome.at) +
                   " failed: " + escaped(outcome.name) + "</li>\n";
  }
  std::stable_sort(events.lines.begin(), events.lines.end(),
                   [](const PlotLine& one, const PlotLine& other) { return one.at < other.at; });
  return events;
}

std::string measure_words(const std::string& unit) {
  if (unit == "degC") return "Temperatures, degC";
  if (unit == "%") return "Commands and outputs, %";
  if (unit == "kW") return "Powers, kW";
  if (unit == "kVA") return "Apparent powers, kVA";
  if (unit == "V") return "Voltages, V";
  if (unit == "A") return "Currents, A";
  if (unit == "s") return "Times, s";
  return unit.empty() ? "Plain numbers" : "In " + unit;
}

}  // namespace

std::string html_plots(const Verdict& verdict) {
  auto events = events_of(verdict);
  PlotFrame frame{time_scale(verdict.ended), verdict.ended, std::move(events.lines)};
  Group curves;
  Group lanes;
  std::string level;
  for (const auto& trend : verdict.trends) {
    if (trend.points.empty()) continue;
    if (is_level(trend)) {
      level += (level.empty() ? "" : "; ") + level_words(trend);
    } else {
      (trend.names.empty() ? curves : lanes).push_back(&trend);
    }
  }
  std::string text = "<h3>What happened</h3>\n";
  if (!events.list.empty()) text += "<ol class=\"events\">\n" + events.list + "</ol>\n";
  for (const auto& group : grouped(curves))
    text += "<figure>" + html_element("figcaption", measure_words(group.front()->unit)) +
            plot_curves(frame, group) + "</figure>\n";
  constexpr std::size_t kLanes = 12;  // what fits on a page below the rest
  for (std::size_t first = 0; first < lanes.size(); first += kLanes) {
    const auto last = std::min(first + kLanes, lanes.size());
    text += "<figure>" + html_element("figcaption", "States and switches") +
            plot_lanes(frame, {lanes.begin() + static_cast<std::ptrdiff_t>(first),
                               lanes.begin() + static_cast<std::ptrdiff_t>(last)}) +
            "</figure>\n";
  }
  if (!level.empty()) text += html_element("p", "Level all along: " + level + ".", "soft") + "\n";
  return text;
}

}  // namespace emberline::io

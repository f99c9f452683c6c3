#include <algorithm>
#include <cmath>
#include <set>

#include "sim/base/csv_field.hpp"
#include "sim/base/quantity.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::io {
namespace {

using rehearsal::Trend;
using rehearsal::Verdict;

std::string number(double value) { return std::isnan(value) ? "" : format_number(value); }

std::string word(const Trend& trend, double value) {
  for (const auto& name : trend.names)
    if (name.value == value) return name.name;
  return number(value);
}

std::string heads(const Trend& trend) {
  if (!trend.names.empty()) return "," + csv_field(trend.signal);
  const std::string unit = trend.unit.empty() ? "" : " " + trend.unit;
  return "," + csv_field(trend.signal + " low" + unit) + "," + csv_field(trend.signal + " high" + unit);
}

/// A quantity's point covers the time since the one before; what has names holds until the next.
std::string cells(const Trend& trend, SimTime at) {
  const auto& points = trend.points;
  auto point = std::lower_bound(points.begin(), points.end(), at,
                                [](const Trend::Point& candidate, SimTime t) { return candidate.at < t; });
  if (trend.names.empty()) {
    if (point == points.end()) return ",,";
    return "," + number(point->low) + "," + number(point->high);
  }
  if (point == points.end() || point->at > at) {
    if (point == points.begin()) return ",";
    --point;
  }
  const auto low = word(trend, point->low);
  return "," + csv_field(point->low == point->high ? low : low + " and " + word(trend, point->high));
}

std::string name_of(const Verdict& verdict, const std::vector<Verdict>& all, std::set<std::string>& taken) {
  const auto of_stem = std::count_if(
      all.begin(), all.end(), [&](const Verdict& other) { return other.file_stem == verdict.file_stem; });
  const std::string stem = verdict.file_stem + (of_stem > 1 ? "-seed-" + std::to_string(verdict.seed) : "");
  std::string name = stem;
  for (int i = 2; !taken.insert(name).second; ++i) name = stem + "-" + std::to_string(i);
  return name + ".csv";
}

}  // namespace

std::string trends_csv(const Verdict& verdict) {
  std::set<SimTime> times;
  std::string text = "time_s";
  for (const auto& trend : verdict.trends) {
    text += heads(trend);
    for (const auto& point : trend.points) times.insert(point.at);
  }
  text += "\r\n";
  for (const auto at : times) {
    text += format_number(to_seconds(at));
    for (const auto& trend : verdict.trends) text += cells(trend, at);
    text += "\r\n";
  }
  return text;
}

std::vector<NamedFile> trend_files(const std::vector<Verdict>& verdicts) {
  std::vector<NamedFile> files;
  files.reserve(verdicts.size());
  std::set<std::string> taken;
  for (const auto& verdict : verdicts)
    files.push_back({name_of(verdict, verdicts, taken), trends_csv(verdict)});
  return files;
}

}  // namespace emberline::io

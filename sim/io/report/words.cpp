#include "sim/io/report/words.hpp"

#include <algorithm>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/polling/review_text.hpp"

namespace emberline::io {

using rehearsal::Outcome;
using rehearsal::Verdict;

std::string_view word_of(Outcome::Result result) {
  switch (result) {
    case Outcome::Result::passed:
      return "passed";
    case Outcome::Result::failed:
      return "failed";
    case Outcome::Result::not_judged:
      return "could not be judged";
  }
  return "";
}

std::string_view loud_word_of(Outcome::Result result) {
  switch (result) {
    case Outcome::Result::passed:
      return "PASSED";
    case Outcome::Result::failed:
      return "FAILED";
    case Outcome::Result::not_judged:
      return "COULD NOT BE JUDGED";
  }
  return "";
}

std::size_t met(const Verdict& verdict) {
  return static_cast<std::size_t>(
      std::count_if(verdict.outcomes.begin(), verdict.outcomes.end(),
                    [](const Outcome& outcome) { return outcome.result == Outcome::Result::passed; }));
}

std::string time_text(SimTime at) { return format_duration(at.time_since_epoch()); }
std::string time_text(Duration duration) { return format_duration(duration); }

std::vector<AroundStretch> stretches_around(const Outcome& outcome) {
  std::vector<AroundStretch> stretches;
  const auto& rows = outcome.around.rows;
  const auto decides = [&](std::size_t i) { return outcome.at && rows[i].at == *outcome.at; };
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const std::size_t first = i;
    while (!decides(first) && i + 1 < rows.size() && !decides(i + 1) &&
           rows[i + 1].values == rows[first].values)
      ++i;
    std::string time = time_text(rows[first].at);
    if (i > first) time += " to " + time_text(rows[i].at);
    stretches.push_back({std::move(time), &rows[first].values, decides(first)});
  }
  return stretches;
}

std::vector<std::string> lines_around(const Outcome& outcome) {
  std::vector<std::string> lines;
  for (const auto& stretch : stretches_around(outcome)) {
    std::string line = (stretch.decides ? "> " : "  ") + stretch.time;
    for (std::size_t i = 0; i < stretch.values->size() && i < outcome.around.signals.size(); ++i)
      line += "  " + outcome.around.signals[i] + " " + (*stretch.values)[i];
    lines.push_back(std::move(line));
  }
  return lines;
}

std::string escaped(std::string_view text) {
  std::string result;
  result.reserve(text.size());
  for (const char c : text) {
    switch (c) {
      case '&':
        result += "&amp;";
        break;
      case '<':
        result += "&lt;";
        break;
      case '>':
        result += "&gt;";
        break;
      case '"':
        result += "&quot;";
        break;
      default:
        result += static_cast<unsigned char>(c) < 0x20 && c != '\n' ? ' ' : c;
    }
  }
  // XML 1.0, 2.2: U+FFFE and U+FFFF are no characters of a document.
  for (const std::string_view none : {"\xEF\xBF\xBE", "\xEF\xBF\xBF"})
    for (auto at = result.find(none); at != std::string::npos; at = result.find(none, at))
      result.replace(at, none.size(), " ");
  return result;
}

std::string plan_review_head(const rehearsal::Verdict::PlanReview& review) {
  return polling::review_head(review.plan, review.line);
}

std::string command_of(const Verdict& verdict) {
  const auto file = verdict.files.empty() ? verdict.file_stem + ".yaml" : verdict.files.front().name;
  const bool plain =
      file.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-+") ==
      std::string::npos;
  std::string quoted;
  for (const char c : file) quoted += c == '\'' ? std::string("'\\''") : std::string(1, c);
  // Where it lay is not known here: whoever types it puts the folder in place of the dots.
  std::string text = "emberline rehearse " + (plain ? ".../" + file : "'.../" + quoted + "'") + " --seed " +
                     std::to_string(verdict.seed);
  if (verdict.real_master) text += " --real-master";
  if (verdict.by_hand) text += " --by-hand";
  if (verdict.plant_speed != 1.0) text += " --plant-speed " + format_number(verdict.plant_speed);
  return text;
}

}  // namespace emberline::io

#include <algorithm>
#include <cmath>

#include "sim/base/quantity.hpp"
#include "sim/bench/traffic_text.hpp"
#include "sim/io/report/html.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Outcome;
using rehearsal::Verdict;

/// More of the journal than this is cut out of the middle: nobody turns so many pages.
constexpr std::size_t kJournalRows = 300;

std::string around_table(const Outcome& outcome) {
  std::vector<std::string> heads{"Time"};
  for (const auto& signal : outcome.around.signals) heads.push_back(escaped(signal));
  HtmlTable table("around", heads);
  for (const auto& stretch : stretches_around(outcome)) {
    std::vector<std::string> cells{stretch.time};
    for (const auto& value : *stretch.values) cells.push_back(escaped(value));
    table.row(cells, stretch.decides ? "here" : "");
  }
  return std::move(table).finished();
}

std::string percent(double share) { return format_number(std::min(100.0, share * 100.0)); }

std::string clock_words(const Verdict& verdict) {
  if (!verdict.wall_clock) return "stepped: as fast as it goes, to the instant the same every time";
  if (verdict.plant_speed == 1.0) return "the clock on the wall";
  return "the clock on the wall; zones, walls and sensors " + format_number(verdict.plant_speed) +
         " times as fast";
}

}  // namespace

HtmlTable::HtmlTable(std::string_view kind, const std::vector<std::string>& heads) : columns_(heads.size()) {
  text_ = kind.empty() ? "<table><thead><tr>" : "<table class=\"" + std::string(kind) + "\"><thead><tr>";
  for (const auto& head : heads) {
    const bool number = head.starts_with(kNumberCell);
    text_ += (number ? "<th class=\"n\">" : "<th>") + head.substr(number ? 1 : 0) + "</th>";
  }
  text_ += "</tr></thead><tbody>\n";
}

void HtmlTable::row(const std::vector<std::string>& cells, std::string_view kind) {
  text_ += kind.empty() ? "<tr>" : "<tr class=\"" + std::string(kind) + "\">";
  for (const auto& cell : cells) {
    const bool number = cell.starts_with(kNumberCell);
    text_ += (number ? "<td class=\"n\">" : "<td>") + cell.substr(number ? 1 : 0) + "</td>";
  }
  text_ += "</tr>\n";
}

void HtmlTable::wide(const std::string& cell, std::string_view kind) {
  text_ += "<tr class=\"" + std::string(kind) + "\"><td colspan=\"" + std::to_string(columns_) + "\">" +
           cell + "</td></tr>\n";
}

void HtmlTable::beside(const std::string& cell, std::string_view kind) {
  text_ += "<tr class=\"" + std::string(kind) + "\"><td></td><td colspan=\"" + std::to_string(columns_ - 1) +
           "\">" + cell + "</td></tr>\n";
}

std::string html_element(std::string_view name, std::string_view text, std::string_view kind) {
  const std::string tag(name);
  return "<" + tag + (kind.empty() ? "" : " class=\"" + std::string(kind) + "\"") + ">" + escaped(text) +
         "</" + tag + ">";
}

std::string counted(std::uint64_t count, std::string_view what) {
  return std::to_string(count) + " " + std::string(what) + (count == 1 ? "" : "s");
}

std::string html_result(Outcome::Result result) {
  const std::string open = "<span class=\"result ";
  const std::string shape = R"("><svg viewBox="0 0 16 16" aria-hidden="true">)";
  const std::string word = "</svg>" + std::string(loud_word_of(result)) + "</span>";
  switch (result) {
    case Outcome::Result::passed:
      return open + "good" + shape +
             R"(<circle cx="8" cy="8" r="7" fill="none" stroke="currentColor" stroke-width="1.6"/>)"
             R"(<path d="M4.5 8.4l2.4 2.4 4.6-5.2" fill="none" stroke="currentColor" stroke-width="1.9"/>)" +
             word;
    case Outcome::Result::failed:
      return open + "bad" + shape +
             R"(<path d="M1 1h14v14H1z" fill="currentColor"/>)"
             R"(<path class="cross" d="M4.5 4.5l7 7m0-7l-7 7"/>)" +
             word;
    case Outcome::Result::not_judged:
      return open + "open" + shape +
             R"(<path d="M8 1.4L15.2 14.6H.8z" fill="none" stroke="currentColor" stroke-width="1.6"/>)"
             R"(<path d="M8 5.6v4.6m0 1.4v1.5" stroke="currentColor" stroke-width="1.7"/>)" +
             word;
  }
  return {};
}

std::string html_expectations(const Verdict& verdict) {
  HtmlTable table("expectations", {"Verdict", "Expectation", "Decided"});
  for (const auto& outcome : verdict.outcomes) {
    const bool shows_values = !outcome.around.rows.empty();
    table.row(
        {html_result(outcome.result),
         html_element("span", outcome.name, "name") + html_element("span", outcome.sentence, "sentence"),
         outcome.at ? time_text(*outcome.at) : std::string("-")},
        shows_values ? "headed" : "");
    if (shows_values) table.beside(around_table(outcome), "more");
  }
  return "<h3>What was expected</h3>\n" + std::move(table).finished();
}

std::string html_traffic(const Verdict& verdict) {
  std::string text;
  for (const auto& line : bench::traffic_lines(verdict.traffic)) {
    const bool inner = line.starts_with(' ');
    text += "<li" + std::string(inner ? " class=\"in\"" : "") + ">" +
            escaped(line.substr(line.find_first_not_of(' '))) + "</li>\n";
  }
  for (const auto& review : verdict.plan_reviews) {
    text += "<li>" + escaped(plan_review_head(review)) + "</li>\n";
    for (const auto& sentence : review.sentences) text += "<li class=\"in\">" + escaped(sentence) + "</li>\n";
  }
  if (verdict.mistaken_answers > 0)
    text += "<li>" + counted(verdict.mistaken_answers, "time") +
            " a late answer was taken for the answer to a later request.</li>\n";
  if (text.empty()) return {};
  return "<h3>Traffic review</h3>\n<ul class=\"plain\">\n" + text + "</ul>\n";
}

std::string html_closest_calls(const Verdict& verdict) {
  HtmlTable table(
      "", {"Unit", number_cell("Longest wait for a request"), number_cell("Timeout"), "", "What it means"});
  bool any = false;
  for (const auto& call : verdict.closest_calls) {
    if (call.timeout <= Duration{} || call.longest_gap <= Duration{}) continue;
    any = true;
    const double share = to_seconds(call.longest_gap) / to_seconds(call.timeout);
    const bool acted = call.longest_gap >= call.timeout;
    table.row({escaped(call.unit), number_cell(time_text(call.longest_gap)),
               number_cell(time_text(call.timeout)),
               "<span class=\"gauge\"><i style=\"width:" + percent(share) + "%\"></i></span>",
               acted ? "the timeout was reached: the watchdog acted"
                     : percent(std::round(share * 100.0) / 100.0) + " % of the timeout was used"});
  }
  if (!any) return {};
  return "<h3>Closest calls of the watchdogs</h3>\n" + std::move(table).finished();
}

std::string html_journal(const Verdict& verdict) {
  const auto& journal = verdict.journal;
  if (journal.empty()) return {};
  HtmlTable table("journal", {"Time", "Of", "What happened"});
  for (std::size_t i = 0; i < journal.size(); ++i) {
    if (journal.size() > kJournalRows && i == kJournalRows / 2) {
      const auto left_out = journal.size() - kJournalRows;
      table.wide(std::to_string(left_out) + " more entries are left out here; the JSON has all of them",
                 "soft");
      i += left_out;
    }
    table.row({time_text(journal[i].at), escaped(journal[i].subject), escaped(journal[i].sentence)});
  }
  return "<h3>Journal</h3>\n" + std::move(table).finished();
}

std::string html_origin(const Verdict& verdict) {
  std::string text = "<h3>What it was made from</h3>\n";
  if (!verdict.files.empty()) {
    HtmlTable table("", {"File", "SHA-256"});
    for (const auto& file : verdict.files)
      table.row({escaped(file.name), html_element("span", file.sha256, "mono")});
    text += std::move(table).finished();
  }
  text += "<dl class=\"facts keep\">\n";
  const auto fact = [&](std::string_view what, const std::string& value) {
    text += html_element("dt", what) + html_element("dd", value) + "\n";
  };
  if (!verdict.version.empty()) fact("Run by", "emberline " + verdict.version);
  fact("Seed", std::to_string(verdict.seed));
  fact("Clock", clock_words(verdict));
  fact("Master", verdict.real_master ? "a real one; the stand-ins of the file were left out"
                                     : "the stand-ins of the file");
  return text + "<dt>Does it again</dt><dd>" + html_element("code", command_of(verdict)) + "</dd>\n</dl>\n";
}

}  // namespace emberline::io

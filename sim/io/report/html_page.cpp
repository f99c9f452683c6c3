#include <algorithm>

#include "sim/io/report/html.hpp"
#include "sim/io/report/report.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Outcome;
using rehearsal::Verdict;

Outcome::Result result_of(const Verdict& verdict) {
  return verdict.passed ? Outcome::Result::passed : Outcome::Result::failed;
}

std::string expectations_met(const Verdict& verdict) {
  return std::to_string(met(verdict)) + " of " + counted(verdict.outcomes.size(), "expectation") + " met";
}

/// The first expectation that was not met, for overviews.
std::string first_failure(const Verdict& verdict) {
  for (const auto& outcome : verdict.outcomes) {
    if (outcome.result == Outcome::Result::passed) continue;
    return html_element("span", outcome.name, "name") + ": " + escaped(outcome.sentence);
  }
  return verdict.outcomes.empty() ? "nothing was expected" : "";
}

std::string short_caution() {
  return "<p class=\"caution\"><b>A simulation.</b> A rehearsal that passes shows how this program met this "
         "story on a simulated bench. It is no safety validation, and replaces none. The cautions are at the "
         "end.</p>\n";
}

std::string cautions() {
  return R"(<section class="keep">
<h3>Cautions</h3>
<ul>
<li>This is a simulation: passing a rehearsal is no safety validation.</li>
<li>A comms watchdog, an enable terminal or a latch is no safety function and no emergency stop. Over-temperature cut-out and isolation are hard-wired and separate.</li>
<li>Holding the last command means heating blind. Latching off can cost the charge. Heat can come back by itself after a reset.</li>
<li>Thyristors that are off are not isolated. With phase-angle firing the neutral can carry more than a phase.</li>
<li>Never let a PLC whose outputs reach real contactors run on virtual readings, and keep the bench off plant networks.</li>
<li>Before touching a real cable: lock out, prove dead, follow local codes, and leave it to licensed people.</li>
</ul>
</section>
<div class="sign"><span>Reviewed by</span><span>Date</span><span>Signature</span></div>
)";
}

std::string facts(const Verdict& verdict) {
  std::string text = "<p class=\"soft\">";
  text += time_text(verdict.ended) + (verdict.wall_clock ? " on the wall clock" : " of simulated time") +
          ", " + counted(verdict.transactions, "request") + ", seed " + std::to_string(verdict.seed) + ", " +
          (verdict.real_master ? "a real master" : "stand-ins for the master");
  if (!verdict.files.empty()) text += ", " + escaped(verdict.files.front().name);
  return text + "</p>\n";
}

std::string stamp(const Verdict& verdict) {
  return "<p class=\"stamp\">" + html_result(result_of(verdict)) + " <span class=\"rest\">" +
         expectations_met(verdict) + "</span></p>\n";
}

std::string why(const Verdict& verdict) {
  return verdict.why.empty() ? "" : html_element("p", verdict.why, "why") + "\n";
}

std::string body_of(const Verdict& verdict) {
  return html_expectations(verdict) + html_plots(verdict) + html_master(verdict) + html_traffic(verdict) +
         html_closest_calls(verdict) + html_journal(verdict) + html_origin(verdict);
}

std::string one(const Verdict& verdict, const std::string& written) {
  return "<header>\n<p class=\"kicker\">Report of a rehearsal</p>\n" + html_element("h1", verdict.title) +
         "\n" + why(verdict) + stamp(verdict) + facts(verdict) + written + "</header>\n" + short_caution() +
         "<section class=\"rehearsal only\">\n" + body_of(verdict) + "</section>\n";
}

std::string overview(const std::vector<Verdict>& verdicts) {
  HtmlTable table("expectations", {"Verdict", "Rehearsal", number_cell("Met"), number_cell("Seed")});
  for (std::size_t i = 0; i < verdicts.size(); ++i) {
    const auto& verdict = verdicts[i];
    const auto failure = first_failure(verdict);
    table.row({html_result(result_of(verdict)),
               "<a class=\"name\" href=\"#r" + std::to_string(i + 1) + "\">" + escaped(verdict.title) +
                   "</a>" + (failure.empty() ? "" : "<span class=\"sentence\">" + failure + "</span>"),
               number_cell(std::to_string(met(verdict)) + " of " + std::to_string(verdict.outcomes.size())),
               number_cell(std::to_string(verdict.seed))});
  }
  return std::move(table).finished();
}

std::string several(const std::vector<Verdict>& verdicts, const std::string& written) {
  const auto passed = static_cast<std::size_t>(
      std::count_if(verdicts.begin(), verdicts.end(), [](const Verdict& verdict) { return verdict.passed; }));
  const auto all = passed == verdicts.size() ? Outcome::Result::passed : Outcome::Result::failed;
  std::string text = "<header>\n<p class=\"kicker\">Report of rehearsals</p>\n<h1>" +
                     counted(verdicts.size(), "rehearsal") + "</h1>\n<p class=\"stamp\">" + html_result(all) +
                     " <span class=\"rest\">" + std::to_string(passed) + " of " +
                     std::to_string(verdicts.size()) + " passed</span></p>\n" + written + "</header>\n" +
                     short_caution() + "<section>\n<h3>Overview</h3>\n" + overview(verdicts) + "</section>\n";
  for (std::size_t i = 0; i < verdicts.size(); ++i) {
    const auto& verdict = verdicts[i];
    text += "<section class=\"rehearsal\" id=\"r" + std::to_string(i + 1) +
            "\">\n<p class=\"kicker\">Rehearsal " + std::to_string(i + 1) + " of " +
            std::to_string(verdicts.size()) + "</p>\n" + html_element("h2", verdict.title) + "\n" +
            why(verdict) + stamp(verdict) + facts(verdict) + body_of(verdict) + "</section>\n";
  }
  return text;
}

}  // namespace

std::string html_report(const std::vector<Verdict>& verdicts, std::string_view written_at) {
  const std::string title =
      verdicts.size() == 1 ? verdicts.front().title : counted(verdicts.size(), "rehearsal");
  const std::string written =
      written_at.empty() ? "" : "<p class=\"soft\">Written " + escaped(written_at) + "</p>\n";
  // The policy makes sure that nothing is ever fetched, whatever a browser would like to.
  return "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
         "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
         "'unsafe-inline'\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n" +
         html_element("title", title) + "\n<style>" + std::string(html_style()) +
         "</style>\n</head>\n<body>\n" +
         (verdicts.size() == 1 ? one(verdicts.front(), written) : several(verdicts, written)) + cautions() +
         "</body>\n</html>\n";
}

}  // namespace emberline::io

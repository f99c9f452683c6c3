#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <regex>
#include <string>

#include <doctest/doctest.h>

#include "sim/io/report/report.hpp"
#include "tests/sim/io/report/sample_verdict.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using testing::sample_verdict;

namespace {

std::size_t times(const std::string& text, const std::string& what) {
  std::size_t found = 0;
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + 1)) ++found;
  return found;
}

/// Relative luminance of "#rrggbb" and contrast of two (WCAG 2.1, "relative luminance", "contrast ratio").
double luminance(const std::string& colour) {
  const auto channel = [&](std::size_t at) {
    const double value = static_cast<double>(std::strtol(colour.substr(at, 2).c_str(), nullptr, 16)) / 255.0;
    return value <= 0.03928 ? value / 12.92 : std::pow((value + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5);
}

double contrast(const std::string& one, const std::string& other) {
  const auto [dark, light] = std::minmax(luminance(one), luminance(other));
  return (light + 0.05) / (dark + 0.05);
}

/// The colours of the page by name; the first definition on paper, the second in the dark.
std::map<std::string, std::vector<std::string>> colours_of(const std::string& page) {
  std::map<std::string, std::vector<std::string>> colours;
  const std::regex definition("--([a-z0-9-]+): (#[0-9a-f]{6});");
  for (auto at = std::sregex_iterator(page.begin(), page.end(), definition); at != std::sregex_iterator();
       ++at)
    colours[(*at)[1]].push_back((*at)[2]);
  return colours;
}

}  // namespace

TEST_CASE("the page of a rehearsal changes without anybody meaning it") {
  testing::check_golden("report.html", io::html_report({sample_verdict()}, ""));
}

TEST_CASE("a page needs the network, or runs something") {
  const auto page = io::html_report({sample_verdict(), sample_verdict()}, "2031-05-06 07:08 UTC");
  for (const char* foreign :
       {"http:", "https:", "src=", "<script", "<link", "url(", "@import", "<iframe", "onload"})
    CHECK_MESSAGE(page.find(foreign) == std::string::npos, foreign);
  CHECK(page.find("default-src 'none'") != std::string::npos);
}

TEST_CASE("text of users is taken for HTML, or spoiled") {
  const auto page = io::html_report({sample_verdict()}, "");
  CHECK(page.find("<h1>Cable &lt;pulled&gt; &amp; &quot;plugged&quot; at 540 °C – größer</h1>") !=
        std::string::npos);
  CHECK(page.find("<b>somebody</b>") == std::string::npos);
  CHECK(page.find("bench &lt;1&gt;.yaml") != std::string::npos);
  CHECK(page.find('\x01') == std::string::npos);
}

TEST_CASE("an expectation that failed, or could not be judged, reads as if it had passed") {
  const auto page = io::html_report({sample_verdict()}, "");
  CHECK(times(page, "</svg>PASSED</span>") == 1);
  CHECK(times(page, "</svg>FAILED</span>") == 2);  // one of them the whole rehearsal
  CHECK(times(page, "</svg>COULD NOT BE JUDGED</span>") == 1);
  CHECK(page.find("1 of 3 expectations met") != std::string::npos);
  // The values around, with the row that decided.
  CHECK(page.find("<tr class=\"here\"><td>30.5 s</td><td>inhibited</td><td>0 W</td></tr>") !=
        std::string::npos);
}

TEST_CASE("values around a failure that stand still fill the table, or one that moved is folded away") {
  auto made = sample_verdict();
  auto& failed = made.outcomes.at(1);
  failed.around.rows.clear();
  const auto row = [&](Duration at, const char* state, const char* power) {
    failed.around.rows.push_back({SimTime{at}, {state, power}});
  };
  for (int i = 0; i < 8; ++i) row(28500ms + i * 200ms, "running", "11.9 kW");
  row(30100ms, "running", "11.8 kW");
  row(30300ms, "inhibited", "0 W");
  row(30500ms, "inhibited", "0 W");  // the one that decided stays by itself
  row(30700ms, "inhibited", "0 W");
  row(30900ms, "inhibited", "0 W");
  const auto page = io::html_report({made}, "");
  CHECK(page.find("<tr><td>28.5 s to 29.9 s</td><td>running</td><td>11.9 kW</td></tr>\n"
                  "<tr><td>30.1 s</td><td>running</td><td>11.8 kW</td></tr>\n"
                  "<tr><td>30.3 s</td><td>inhibited</td><td>0 W</td></tr>\n"
                  "<tr class=\"here\"><td>30.5 s</td><td>inhibited</td><td>0 W</td></tr>\n"
                  "<tr><td>30.7 s to 30.9 s</td><td>inhibited</td><td>0 W</td></tr>\n") != std::string::npos);
}

TEST_CASE("evidence is missing from the page: events, writes, silences, files, command, cautions") {
  const auto page = io::html_report({sample_verdict()}, "2031-05-06 07:08 UTC");
  for (const char* part :
       {"cut field", "restore field (done by hand)", "30.5 s failed: heats", "heater.setpoint", "Silences",
        "exception 02 1 time", "reads holding registers", "2.015 s", "state running -&gt; inhibited",
        "emberline rehearse .../cable-pulled.yaml --seed 3 --real-master --by-hand --plant-speed 2.5",
        "emberline 1.2.3", "Level all along: other.output 25 %", "no safety validation",
        "lock out, prove dead", "a late answer was taken for the answer", "Written 2031-05-06 07:08 UTC"})
    CHECK_MESSAGE(page.find(part) != std::string::npos, part);
  CHECK(page.find(std::string(64, 'a')) != std::string::npos);
}

TEST_CASE("several rehearsals: the overview leads nowhere, or the parts do not begin on a new page") {
  auto good = sample_verdict();
  good.title = "Another one";
  good.outcomes.resize(1);
  good.passed = true;
  const auto page = io::html_report({sample_verdict(), good}, "");
  CHECK(page.find("1 of 2 passed") != std::string::npos);
  for (const char* id : {"r1", "r2"}) {
    CHECK(times(page, std::string("href=\"#") + id + "\"") == 1);
    CHECK(times(page, std::string("<section class=\"rehearsal\" id=\"") + id + "\">") == 1);
  }
  CHECK(page.find("section.rehearsal { break-before: page; ") != std::string::npos);
  CHECK(times(page, "<h3>Cautions</h3>") == 1);
}

TEST_CASE("text on the page cannot be read for want of contrast") {
  // WCAG 2.1, success criterion 1.4.3: 4.5:1; for what is drawn 3:1 (1.4.11).
  auto colours = colours_of(io::html_report({sample_verdict()}, ""));
  for (const std::size_t scheme : {0U, 1U}) {
    CAPTURE(scheme);
    for (const char* text : {"ink", "soft", "good", "bad", "open"}) {
      CAPTURE(text);
      REQUIRE(colours[text].size() == 2);
      CHECK(contrast(colours[text][scheme], colours["paper"][scheme]) >= 4.5);
      CHECK(contrast(colours[text][scheme], colours["wash"][scheme]) >= 4.5);
    }
    for (const char* wash : {"bad-wash", "lane-a", "lane-b"})
      CHECK(contrast(colours["ink"][scheme], colours[wash][scheme]) >= 4.5);
    for (const char* curve : {"c0", "c1", "c2", "c3"})
      CHECK(contrast(colours[curve][scheme], colours["paper"][scheme]) >= 3.0);
  }
}

TEST_CASE("a rehearsal that has nothing to show leaves the page broken") {
  rehearsal::Verdict empty;
  empty.title = "Nothing";
  const auto page = io::html_report({empty}, "");
  CHECK(page.find("0 of 0 expectations met") != std::string::npos);
  CHECK(page.find("No point of a unit was written.") != std::string::npos);
  CHECK(page.find("nan") == std::string::npos);
  CHECK(page.find("inf") == std::string::npos);
  CHECK(io::html_report({}, "").find("0 rehearsals") != std::string::npos);
}

TEST_CASE("a gap in a curve is drawn over, or a curve with one point or none breaks the plot") {
  auto made = sample_verdict();
  made.trends.resize(1);
  const auto count_moves = [](const rehearsal::Verdict& verdict) {
    const auto page = io::html_report({verdict}, "");
    const auto from = page.find("<path class=\"curve k0\" d=\"");
    REQUIRE(from != std::string::npos);
    const auto path = page.substr(from + 25, page.find("\"/>", from) - from - 25);
    CHECK(path.find("nan") == std::string::npos);
    return std::count(path.begin(), path.end(), 'M');
  };
  CHECK(count_moves(made) == 2);  // the sensor was broken for a while
  for (auto& point : made.trends[0].points) point.low = point.high = std::nan("");
  CHECK(count_moves(made) == 0);
  made.trends[0].points.resize(1);
  CHECK(count_moves(made) == 0);
  made.trends[0].points.clear();
  CHECK(io::html_report({made}, "").find("class=\"curve") == std::string::npos);
}

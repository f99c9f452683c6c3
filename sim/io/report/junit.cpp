#include <algorithm>
#include <map>
#include <string>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::io {
namespace {

using rehearsal::Outcome;
using rehearsal::Verdict;

/// Text for attributes and elements; control characters, which XML 1.0 forbids, become spaces.
std::string escaped(std::string_view text) {
  std::string result;
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
  return result;
}

std::string attribute(std::string_view name, std::string_view value) {
  return " " + std::string(name) + "=\"" + escaped(value) + "\"";
}

struct Counts {
  std::size_t tests = 0;
  std::size_t failures = 0;
};

Counts count(const Verdict& verdict) {
  Counts counts;
  counts.tests = verdict.outcomes.size();
  for (const auto& outcome : verdict.outcomes)
    counts.failures += outcome.result == Outcome::Result::passed ? 0 : 1;
  return counts;
}

std::string counts_text(const Counts& counts) {
  return attribute("tests", std::to_string(counts.tests)) +
         attribute("failures", std::to_string(counts.failures)) + attribute("errors", "0");
}

std::string case_text(const Verdict& verdict, const Outcome& outcome, const std::string& name) {
  const double at_s = outcome.at ? to_seconds(*outcome.at) : to_seconds(verdict.ended);
  std::string text = "    <testcase" + attribute("name", name) + attribute("classname", verdict.file_stem) +
                     attribute("time", format_number(at_s));
  if (outcome.result == Outcome::Result::passed) return text + "/>\n";
  const bool judged = outcome.result == Outcome::Result::failed;
  return text + ">\n      <failure" + attribute("message", outcome.sentence) +
         attribute("type", judged ? "expectation-failed" : "could-not-be-judged") + ">" +
         escaped(outcome.sentence) + "</failure>\n    </testcase>\n";
}

std::string journal_text(const Verdict& verdict) {
  std::string text;
  for (const auto& entry : verdict.journal) {
    text += format_duration(entry.at.time_since_epoch()) + " " + entry.subject + ": " + entry.sentence + "\n";
  }
  return text;
}

std::string suite_text(const Verdict& verdict, std::size_t number, std::string_view timestamp) {
  std::string text = "  <testsuite" + attribute("name", verdict.title) +
                     attribute("package", verdict.file_stem) + attribute("id", std::to_string(number)) +
                     counts_text(count(verdict)) + attribute("skipped", "0") +
                     attribute("time", format_number(to_seconds(verdict.ended))) +
                     attribute("timestamp", timestamp) + attribute("hostname", "emberline") + ">\n";
  text += "    <properties>\n      <property" + attribute("name", "seed") +
          attribute("value", std::to_string(verdict.seed)) + "/>\n    </properties>\n";
  std::map<std::string, int> used;
  for (const auto& outcome : verdict.outcomes) {
    const int times = ++used[outcome.name];
    text += case_text(verdict, outcome,
                      times == 1 ? outcome.name : outcome.name + " (" + std::to_string(times) + ")");
  }
  return text + "    <system-out>" + escaped(journal_text(verdict)) +
         "</system-out>\n    <system-err></system-err>\n  </testsuite>\n";
}

}  // namespace

std::string junit_xml(const std::vector<Verdict>& verdicts, std::string_view timestamp) {
  Counts all;
  for (const auto& verdict : verdicts) {
    const auto counts = count(verdict);
    all.tests += counts.tests;
    all.failures += counts.failures;
  }
  std::string text = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites" +
                     attribute("name", "emberline") + counts_text(all) + ">\n";
  for (std::size_t i = 0; i < verdicts.size(); ++i) text += suite_text(verdicts[i], i, timestamp);
  return text + "</testsuites>\n";
}

}  // namespace emberline::io

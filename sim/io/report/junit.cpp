#include <algorithm>
#include <map>
#include <string>

#include "sim/base/quantity.hpp"
#include "sim/io/report/report.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Outcome;
using rehearsal::Verdict;

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

/// What stands inside of a failure: the sentence, the values around, and how to see it again.
std::string details(const Verdict& verdict, const Outcome& outcome) {
  std::string text = outcome.sentence + "\n";
  for (const auto& line : lines_around(outcome)) text += line + "\n";
  return text + "does it again: " + command_of(verdict) + "\n";
}

std::string case_text(const Verdict& verdict, const Outcome& outcome, const std::string& name,
                      const std::string& class_name) {
  const double at_s = outcome.at ? to_seconds(*outcome.at) : to_seconds(verdict.ended);
  std::string text = "    <testcase" + attribute("name", name) + attribute("classname", class_name) +
                     attribute("time", format_number(at_s));
  if (outcome.result == Outcome::Result::passed) return text + "/>\n";
  const bool judged = outcome.result == Outcome::Result::failed;
  return text + ">\n      <failure" + attribute("message", outcome.sentence) +
         attribute("type", judged ? "expectation-failed" : "could-not-be-judged") + ">" +
         escaped(details(verdict, outcome)) + "</failure>\n    </testcase>\n";
}

std::string journal_text(const Verdict& verdict) {
  std::string text;
  for (const auto& entry : verdict.journal) {
    text += time_text(entry.at) + " " + entry.subject + ": " + entry.sentence + "\n";
  }
  return text;
}

std::string properties_text(const Verdict& verdict) {
  std::string text = "    <properties>\n";
  const auto property = [&](std::string_view name, std::string_view value) {
    text += "      <property" + attribute("name", name) + attribute("value", value) + "/>\n";
  };
  property("seed", std::to_string(verdict.seed));
  property("file", verdict.files.empty() ? verdict.file_stem : verdict.files.front().name);
  if (!verdict.files.empty()) property("sha256", verdict.files.front().sha256);
  if (!verdict.version.empty()) property("version", verdict.version);
  property("clock", verdict.wall_clock ? "wall" : "stepped");
  property("master", verdict.real_master ? "real" : "stand-in");
  return text + "    </properties>\n";
}

/// The class name of the cases of a scenario: no other has it, for cases of one name would be taken for one.
std::string class_of(const std::vector<Verdict>& verdicts, std::size_t number) {
  const auto& verdict = verdicts[number];
  const auto alike = std::count_if(verdicts.begin(), verdicts.end(), [&](const Verdict& other) {
    return other.file_stem == verdict.file_stem;
  });
  if (alike == 1) return verdict.file_stem;
  // Several seeds, or two of one name in two folders.
  const auto before = std::count_if(
      verdicts.begin(), verdicts.begin() + static_cast<std::ptrdiff_t>(number), [&](const Verdict& other) {
        return other.file_stem == verdict.file_stem && other.seed == verdict.seed;
      });
  return verdict.file_stem + ".seed-" + std::to_string(verdict.seed) +
         (before > 0 ? "-" + std::to_string(before + 1) : "");
}

std::string suite_text(const Verdict& verdict, std::size_t number, std::string_view timestamp,
                       const std::string& class_name) {
  std::string text = "  <testsuite" + attribute("name", verdict.title) + attribute("package", class_name) +
                     attribute("id", std::to_string(number)) + counts_text(count(verdict)) +
                     attribute("skipped", "0") + attribute("time", format_number(to_seconds(verdict.ended))) +
                     attribute("timestamp", timestamp) + attribute("hostname", "emberline") + ">\n" +
                     properties_text(verdict);
  std::map<std::string, int> used;
  for (const auto& outcome : verdict.outcomes) {
    const int times = ++used[outcome.name];
    text +=
        case_text(verdict, outcome,
                  times == 1 ? outcome.name : outcome.name + " (" + std::to_string(times) + ")", class_name);
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
  for (std::size_t i = 0; i < verdicts.size(); ++i)
    text += suite_text(verdicts[i], i, timestamp, class_of(verdicts, i));
  return text + "</testsuites>\n";
}

}  // namespace emberline::io

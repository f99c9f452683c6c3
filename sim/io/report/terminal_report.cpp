#include <algorithm>
#include <array>
#include <cstdio>
#include <string>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/bench/traffic_text.hpp"
#include "sim/io/report/report.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Outcome;

/// More of the journal than this is cut out of the middle: the verdict has to stay on the screen.
constexpr std::size_t kJournalLines = 40;
constexpr std::size_t kWidth = 100;

struct Paint {
  const char* good = "";
  const char* bad = "";
  const char* faint = "";
  const char* strong = "";
  const char* off = "";
};

Paint paint(bool colour) {
  if (!colour) return {};
  return {"\x1b[32m", "\x1b[31m", "\x1b[2m", "\x1b[1m", "\x1b[0m"};
}

/// "h:mm:ss.mmm", so that eight hours and eight milliseconds both read well.
std::string clock_text(SimTime at) {
  const auto ms = std::chrono::duration_cast<std::chrono::milliseconds>(at.time_since_epoch()).count();
  std::array<char, 48> text{};
  std::snprintf(text.data(), text.size(), "%2lld:%02lld:%02lld.%03lld", static_cast<long long>(ms / 3600000),
                static_cast<long long>(ms / 60000 % 60), static_cast<long long>(ms / 1000 % 60),
                static_cast<long long>(ms % 1000));
  return text.data();
}

/// Breaks a sentence at spaces so that no line is longer than the page, with further lines indented.
std::string wrapped(const std::string& text, std::size_t indent) {
  std::string result;
  std::size_t column = indent;
  std::size_t begin = 0;
  while (begin < text.size()) {
    const auto end = std::min(text.find(' ', begin), text.size());
    const auto word = text.substr(begin, end - begin);
    if (column > indent && column + 1 + word.size() > kWidth) {
      result += "\n" + std::string(indent, ' ');
      column = indent;
    } else if (column > indent) {
      result += ' ';
      ++column;
    }
    result += word;
    column += word.size();
    begin = end + 1;
  }
  return result;
}

std::string journal_line(const bench::Journal::Entry& entry, std::size_t subject_width) {
  auto subject = entry.subject;
  subject.resize(std::max(subject.size(), subject_width), ' ');
  const std::string head = "  " + clock_text(entry.at) + "  " + subject + "  ";
  return head + wrapped(entry.sentence, head.size()) + "\n";
}

std::string journal_text(const rehearsal::Verdict& verdict, const Paint& with) {
  const auto& journal = verdict.journal;
  std::size_t subject_width = 0;
  for (const auto& entry : journal) subject_width = std::max(subject_width, entry.subject.size());
  const std::size_t half = kJournalLines / 2;
  std::string text;
  for (std::size_t i = 0; i < journal.size(); ++i) {
    if (journal.size() > kJournalLines && i == half) {
      const auto left_out = journal.size() - kJournalLines;
      text += std::string(with.faint) + "  ... " + std::to_string(left_out) +
              " more entries (--json has all of them)" + with.off + "\n";
      i += left_out;
    }
    text += journal_line(journal[i], subject_width);
  }
  return text;
}

const char* word_of(Outcome::Result result) {
  switch (result) {
    case Outcome::Result::passed:
      return "PASS";
    case Outcome::Result::failed:
      return "FAIL";
    case Outcome::Result::not_judged:
      return "FAIL";
  }
  return "";
}

std::string outcome_text(const Outcome& outcome, const Paint& with) {
  const bool good = outcome.result == Outcome::Result::passed;
  std::string text = std::string("  ") + (good ? with.good : with.bad) + word_of(outcome.result) + with.off +
                     "  " + with.strong + outcome.name + with.off + "\n        " +
                     wrapped(outcome.sentence, 8) + "\n";
  if (!good)
    for (const auto& line : lines_around(outcome)) text += "        " + wrapped(line, 12) + "\n";
  return text;
}

std::string summary(const rehearsal::Verdict& verdict, const Paint& with) {
  const auto good =
      std::count_if(verdict.outcomes.begin(), verdict.outcomes.end(),
                    [](const Outcome& outcome) { return outcome.result == Outcome::Result::passed; });
  std::string text =
      std::string(verdict.passed ? with.good : with.bad) + (verdict.passed ? "PASSED" : "FAILED") + with.off +
      "  " + std::to_string(good) + " of " + std::to_string(verdict.outcomes.size()) +
      " expectations met in " + format_duration(verdict.ended.time_since_epoch()) + " of simulated time, " +
      std::to_string(verdict.transactions) + " requests, seed " + std::to_string(verdict.seed) + "\n";
  for (const auto& call : verdict.closest_calls) {
    if (call.timeout <= Duration{} || call.longest_gap <= Duration{})
      continue;  // unsupervised, or never asked
    text += std::string("        ") +
            (call.longest_gap < call.timeout ? "closest call: " : "longest silence: ") + call.unit +
            " waited " + format_duration(call.longest_gap) + " for a request, its timeout is " +
            format_duration(call.timeout) + "\n";
  }
  return text;
}

std::string traffic_text(const rehearsal::Verdict& verdict) {
  std::string text;
  for (const auto& line : bench::traffic_lines(verdict.traffic)) {
    const std::size_t indent = 2 + line.find_first_not_of(' ');
    text += std::string(indent, ' ') + wrapped(line.substr(indent - 2), indent + 2) + "\n";
  }
  for (const auto& review : verdict.plan_reviews) {
    text += "  " + wrapped(plan_review_head(review), 4) + "\n";
    for (const auto& sentence : review.sentences) text += "    " + wrapped(sentence, 6) + "\n";
  }
  if (verdict.mistaken_answers > 0)
    text += "  " +
            wrapped(std::to_string(verdict.mistaken_answers) +
                        " times a late answer was taken for the answer to a later request",
                    4) +
            "\n";
  return text;
}

}  // namespace

std::string terminal_report(const rehearsal::Verdict& verdict, bool colour) {
  const auto with = paint(colour);
  std::string text = std::string(with.strong) + verdict.title + with.off + "\n";
  if (!verdict.why.empty()) text += "  " + wrapped(verdict.why, 2) + "\n";
  text += "\n" + journal_text(verdict, with) + "\n";
  for (const auto& outcome : verdict.outcomes) text += outcome_text(outcome, with);
  if (const auto traffic = traffic_text(verdict); !traffic.empty())
    text += "\n" + std::string(with.strong) + "Traffic" + with.off + "\n" + traffic;
  return text + "\n" + summary(verdict, with);
}

}  // namespace emberline::io

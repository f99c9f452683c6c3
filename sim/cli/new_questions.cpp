#include "sim/cli/new_questions.hpp"

#include <iostream>
#include <string>
#include <vector>

#include <unistd.h>

#include "sim/base/listed.hpp"
#include "sim/cli/output.hpp"

namespace emberline::cli {
namespace {

std::string trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

std::vector<std::string> split(const std::string& text) {
  std::vector<std::string> parts;
  std::size_t start = 0;
  for (auto comma = text.find(','); comma != std::string::npos; comma = text.find(',', start)) {
    parts.push_back(trimmed(text.substr(start, comma - start)));
    start = comma + 1;
  }
  parts.push_back(trimmed(text.substr(start)));
  return parts;
}

/// Fields of a question that no flag has answered and that may have a place beside the answers so far: what
/// the first of them decides is open as long as that one is.
std::vector<const Field*> open_fields(const Question& question, const NewOptions& options,
                                      const Answers& answers) {
  std::vector<const Field*> open;
  const bool first_open = !options.given[question.first];
  for (std::size_t i = question.first; i < question.first + question.count; ++i)
    if (!options.given[i] && (first_open || fields()[i].why_not(answers).empty()))
      open.push_back(&fields()[i]);
  return open;
}

std::string defaults_of(const std::vector<const Field*>& open, const Answers& answers) {
  std::string text;
  for (const auto* field : open)
    if (field->why_not(answers).empty()) text += (text.empty() ? "" : ", ") + std::string(field->fallback);
  return text;
}

/// Takes what was typed, and defaults for what was not; gives what is wrong.
std::string take(const std::string& typed, const std::vector<const Field*>& open, Answers& answers) {
  // A lone text may hold commas.
  const auto parts = open.size() == 1 ? std::vector{trimmed(typed)} : split(typed);
  if (parts.size() > open.size()) return "expected " + std::to_string(open.size()) + " answers at most";
  for (std::size_t i = 0; i < open.size(); ++i) {
    const bool said = i < parts.size() && !parts[i].empty();
    const auto why_not = open[i]->why_not(answers);
    if (said && !why_not.empty()) return "'" + parts[i] + "': " + std::string(why_not);
    if (!why_not.empty()) continue;
    if (auto wrong = open[i]->take(said ? parts[i] : std::string(open[i]->fallback), answers); !wrong.empty())
      return wrong;
  }
  return {};
}

/// What is wrong with the answers to a question together, and with flags that have no place beside them.
std::string why_not_together(const Question& question, const NewOptions& options, const Answers& answers) {
  for (std::size_t i = question.first; i < question.first + question.count; ++i) {
    const auto why_not = options.given[i] ? fields()[i].why_not(answers) : std::string_view{};
    if (!why_not.empty()) return std::string(fields()[i].flag) + ": " + std::string(why_not);
  }
  return question.check(answers);
}

/// Asks until the answer can be used; false at the end of the input.
bool ask(const Question& question, const std::vector<const Field*>& open, const NewOptions& options,
         Answers& answers) {
  const auto number = static_cast<std::size_t>(&question - questions().data()) + 1;
  const auto defaults = defaults_of(open, answers);
  while (true) {
    print(std::to_string(number) + " of " + std::to_string(questions().size()) + "  " +
          std::string(question.text) + "\n  [" + defaults + "] ");
    std::string typed;
    if (!std::getline(std::cin, typed)) {
      print("\n");
      complain("no answer came; nothing has been written");
      return false;
    }
    auto wrong = take(typed, open, answers);
    if (wrong.empty()) wrong = why_not_together(question, options, answers);
    if (wrong.empty()) return true;
    complain(wrong);
  }
}

/// The flags, before anybody is asked anything.
bool take_flags(const NewOptions& options, Answers& answers) {
  for (std::size_t i = 0; i < kFieldCount; ++i) {
    if (!options.given[i]) continue;
    const auto& field = fields()[i];
    if (const auto wrong = field.take(*options.given[i], answers); !wrong.empty()) {
      complain(std::string(field.flag) + ": " + wrong);
      return false;
    }
  }
  return true;
}

bool enough_is_known(const NewOptions& options, const Answers& answers) {
  if (options.yes || ::isatty(STDIN_FILENO) != 0) return true;
  std::vector<std::string> missing;
  for (std::size_t i = 0; i < kFieldCount; ++i)
    if (!options.given[i] && fields()[i].why_not(answers).empty()) missing.emplace_back(fields()[i].flag);
  if (missing.empty()) return true;
  complain("there is no terminal to ask on: give " + listed(missing) + " too, or --yes for the defaults");
  return false;
}

}  // namespace

std::optional<Answers> find_answers(const NewOptions& options) {
  Answers answers;
  if (!take_flags(options, answers) || !enough_is_known(options, answers)) return std::nullopt;
  const bool asking = !options.yes && ::isatty(STDIN_FILENO) != 0;
  for (const auto& question : questions()) {
    const auto open = open_fields(question, options, answers);
    if (asking && !open.empty()) {
      if (!ask(question, open, options, answers)) return std::nullopt;
      continue;
    }
    auto wrong = open.empty() ? std::string{} : take({}, open, answers);
    if (wrong.empty()) wrong = why_not_together(question, options, answers);
    if (!wrong.empty()) {
      complain(wrong);
      return std::nullopt;
    }
  }
  return answers;
}

}  // namespace emberline::cli

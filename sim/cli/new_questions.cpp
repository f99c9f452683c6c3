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

/// Fields of a question that no flag has answered.
std::vector<const Field*> open_fields(const Question& question, const NewOptions& options) {
  std::vector<const Field*> open;
  for (std::size_t i = question.first; i < question.first + question.count; ++i)
    if (!options.given[i]) open.push_back(&fields()[i]);
  return open;
}

std::string defaults_of(const std::vector<const Field*>& open) {
  std::string text;
  for (const auto* field : open)
    if (field->when_asked) text += (text.empty() ? "" : ", ") + std::string(field->fallback);
  return text.empty() ? std::string(open.front()->fallback) : text;
}

/// Takes what was typed, and defaults for what was not; gives what is wrong.
std::string take(const std::string& typed, const std::vector<const Field*>& open, Answers& answers) {
  // A lone text may hold commas.
  const auto parts = open.size() == 1 ? std::vector{trimmed(typed)} : split(typed);
  if (parts.size() > open.size())
    return "expected " + std::to_string(open.size()) + " answers at most, such as '" + defaults_of(open) +
           "'";
  for (std::size_t i = 0; i < open.size(); ++i) {
    const bool said = i < parts.size() && !parts[i].empty();
    const std::string text = said ? parts[i] : std::string(open[i]->fallback);
    if (auto wrong = open[i]->take(text, answers); !wrong.empty()) return wrong;
  }
  return {};
}

/// Asks until the answer can be used; false at the end of the input.
bool ask(const Question& question, const std::vector<const Field*>& open, Answers& answers) {
  const auto number = static_cast<std::size_t>(&question - questions().data()) + 1;
  while (true) {
    print(std::to_string(number) + " of " + std::to_string(questions().size()) + "  " +
          std::string(question.text) + "\n  [" + defaults_of(open) + "] ");
    std::string typed;
    if (!std::getline(std::cin, typed)) {
      print("\n");
      complain("no answer came; nothing has been written");
      return false;
    }
    auto wrong = take(typed, open, answers);
    if (wrong.empty()) wrong = question.check(answers);
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

/// Flags that say something of what there is not.
std::string why_out_of_place(const NewOptions& options, const Answers& answers) {
  const auto given = [&](std::string_view flag) {
    for (std::size_t i = 0; i < kFieldCount; ++i)
      if (fields()[i].flag == flag) return options.given[i].has_value();
    return false;
  };
  if (given("--serial") && answers.way == Answers::Way::tcp)
    return "--serial: a TCP line has no speed: leave it out";
  if (given("--preset") && answers.policy != registers::Policy::go_to_preset)
    return "--preset: only go-to-preset has a preset";
  return {};
}

bool enough_is_known(const NewOptions& options) {
  if (options.yes || ::isatty(STDIN_FILENO) != 0) return true;
  std::vector<std::string> missing;
  for (const auto& question : questions())
    for (const auto* field : open_fields(question, options))
      if (field->when_asked) missing.emplace_back(field->flag);
  if (missing.empty()) return true;
  complain("there is no terminal to ask on: give " + listed(missing) + " too, or --yes for the defaults");
  return false;
}

}  // namespace

std::optional<Answers> find_answers(const NewOptions& options) {
  Answers answers;
  if (!take_flags(options, answers) || !enough_is_known(options)) return std::nullopt;
  const bool asking = !options.yes && ::isatty(STDIN_FILENO) != 0;
  for (const auto& question : questions()) {
    const auto open = open_fields(question, options);
    const bool to_ask = asking && !open.empty() && open.front()->when_asked;
    if (to_ask) {
      if (!ask(question, open, answers)) return std::nullopt;
      continue;
    }
    auto wrong = open.empty() ? std::string{} : take({}, open, answers);
    if (wrong.empty()) wrong = question.check(answers);
    if (!wrong.empty()) {
      complain(wrong);
      return std::nullopt;
    }
  }
  if (const auto wrong = why_out_of_place(options, answers); !wrong.empty()) {
    complain(wrong);
    return std::nullopt;
  }
  return answers;
}

}  // namespace emberline::cli

// `lesson`: how a scenario is walked through with a class, step by step.
#include <map>
#include <string>
#include <string_view>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/unknown_signal.hpp"

namespace emberline::io {
namespace {

using rehearsal::LessonStep;

constexpr std::string_view kStepExample = "{ title: The cable is pulled, say: ..., does: pulled }";
constexpr std::size_t kFewestAnswers = 2;
constexpr std::size_t kMostAnswers = 5;

/// Several paragraphs: an empty line stays one, other ends of lines become blanks.
bool read_paragraphs(const Node* node, std::string& into, Problems& problems) {
  std::string flat;
  if (!read_prose(node, flat, problems)) return false;
  const auto& text = node->text;
  into.clear();
  for (std::size_t begin = 0; begin < text.size();) {
    const auto gap = text.find("\n\n", begin);
    const auto end = gap == std::string::npos ? text.size() : gap;
    if (!into.empty()) into += "\n\n";
    into += flat.substr(begin, end - begin);
    begin = text.find_first_not_of('\n', end);
  }
  return true;
}

void read_answers(const Node* node, LessonStep& step, Problems& problems) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::sequence || node->items.size() < kFewestAnswers ||
      node->items.size() > kMostAnswers)
    return complain_kind(*node, "a list of two to five answers to choose from", problems);
  for (const auto& item : node->items) {
    std::string answer;
    if (read_prose(&item, answer, problems)) step.answers.push_back(std::move(answer));
  }
}

/// `question` and what goes with it.
void read_question(Fields& fields, LessonStep& step, Problems& problems) {
  const auto* question = fields.optional("question");
  if (question == nullptr) {
    for (const auto key : {"answers", "right", "because"})
      fields.refuse(key, "goes with 'question', which says what the class is to predict");
    return;
  }
  read_prose(question, step.question, problems);
  const auto* answers = fields.required("answers", "two to five to choose from");
  read_answers(answers, step, problems);
  const auto* right = fields.required("right", "expected the number of the right answer, from 1 on");
  int number = 0;
  const int most = static_cast<int>(step.answers.empty() ? kMostAnswers : step.answers.size());
  if (read_whole(right, {1, most}, number, problems)) step.right = static_cast<std::size_t>(number - 1);
  read_paragraphs(fields.required("because", "expected why that answer is right"), step.because, problems);
}

/// Steps know each other by the entries they name: each entry happens once.
using Named = std::map<std::string, int>;

void read_does(const Node* node, LessonStep& step, Named& named, ScenarioDraft& draft) {
  for (const auto* item : read_list(node, draft.problems)) {
    const auto found = draft.entry_names.find(item->text);
    if (found == draft.entry_names.end()) {
      std::vector<std::string> known;
      for (const auto& [name, place] : draft.entry_names) known.push_back(name);
      complain(draft.problems, item->place,
               known.empty() ? "does: no entry of the timeline has a name, found '" + item->text + "'"
                             : "does: " + unknown("entry", item->text, known));
      continue;
    }
    const auto [first, is_new] = named.try_emplace(item->text, item->place.line);
    if (!is_new) {
      complain(draft.problems, item->place,
               "does: '" + item->text + "' happens in the step of line " + std::to_string(first->second) +
                   " already");
      continue;
    }
    if (found->second < draft.entry_places.size()) step.does.push_back(draft.entry_places[found->second]);
  }
}

/// `until`: conditions, or how long.
void read_until(Fields& fields, LessonStep& step, ScenarioDraft& draft) {
  auto& problems = draft.problems;
  const auto* until = fields.optional("until");
  if (until == nullptr || until->kind != Node::Kind::mapping) {
    fields.refuse("within", "goes with conditions under 'until'");
    if (until == nullptr || until->kind == Node::Kind::refused) return;
    if (until->kind == Node::Kind::scalar) {
      read_duration(until, Bound::positive, step.watch, problems);
    } else {
      complain_kind(*until, "conditions such as { soak-heater.state: inhibited }, or how long, such as '5 s'",
                    problems);
    }
    return;
  }
  read_duration(fields.optional("within"), Bound::positive, step.within, problems);
  auto conditions = read_conditions(*until, draft);
  if (conditions.empty()) return;
  step.until.emplace();
  step.until->text = rehearsal::words_of(conditions);
  step.until->conditions = std::move(conditions);
}

void read_look_at(const Node* node, LessonStep& step, ScenarioDraft& draft) {
  for (const auto* item : read_list(node, draft.problems)) {
    if (!draft.bench_known) continue;
    if (bench::find_signal(draft.spec.bench, item->text)) {
      step.look_at.push_back(item->text);
    } else {
      complain(draft.problems, item->place,
               label_of(*item) + rehearsal::unknown_signal(draft.spec.bench, item->text));
    }
  }
}

void read_step(const Node& node, Named& named, ScenarioDraft& draft) {
  auto& problems = draft.problems;
  LessonStep step;
  step.place = node.place;
  Fields fields(node, kStepExample, problems);
  read_text(fields.required("title", "a few words that stand above the step"), step.title, problems);
  read_paragraphs(fields.required("say", "expected what is told, in plain words"), step.say, problems);
  read_question(fields, step, problems);
  const auto* does = fields.optional("does");
  read_does(does, step, named, draft);
  read_until(fields, step, draft);
  if (does == nullptr && node.find("until") == nullptr) {
    fields.refuse("button", "nothing is done or watched in this step, so there is nothing to go on with");
  } else {
    read_text(fields.optional("button"), step.button, problems);
  }
  read_look_at(fields.optional("look_at"), step, draft);
  fields.done();
  draft.spec.lesson.push_back(std::move(step));
}

}  // namespace

void read_lesson(const Node* node, ScenarioDraft& draft) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(*node, "a list of steps such as " + std::string(kStepExample), draft.problems);
  Named named;
  for (const auto& item : node->items) read_step(item, named, draft);
}

}  // namespace emberline::io

#include "sim/io/control/hands.hpp"

#include <utility>

#include "sim/base/plain_text.hpp"
#include "sim/faults/action.hpp"

namespace emberline::io {
namespace {

std::string trimmed(std::string_view text) {
  constexpr std::string_view kBlank = " \t\r\n";
  const auto first = text.find_first_not_of(kBlank);
  if (first == std::string_view::npos) {
    return "";
  }
  return std::string(text.substr(first, text.find_last_not_of(kBlank) - first + 1));
}

/// The review as one line: an answer is one. Whoever shows it breaks it at the tabs.
std::string traffic_answer(const bench::Bench& bench, const polling::PollPlans& plans) {
  std::string text = "ok traffic so far";
  for (const auto& line : polling::traffic_lines(bench.traffic(), plans)) {
    text += "\t" + line;
  }
  return text;
}

std::string do_now(const Hands& hands, const std::string& line, SimTime at) {
  auto& bench = hands.bench;
  const std::string& panel = *hands.panel;
  if (line == "ping") {
    return "pong";
  }
  if (line == "traffic") {
    return traffic_answer(bench, *hands.poll_plans);
  }
  if (line == "panel") {
    return panel.empty() ? "error no panel: this bench was started without one" : "ok " + panel;
  }
  const auto action = faults::parse_action(bench.spec(), line);
  if (!action) {
    return one_line("error " + action.error());
  }
  faults::carry_out(bench, *action, at);
  return "ok " + action->text();
}

}  // namespace

std::string too_long_answer() {
  return "error the line is longer than " + std::to_string(kLongestLine) +
         " characters; expected an action such as \"cut field\"";
}

void do_line(const Hands& hands, const std::string& line, std::function<void(std::string)> say) {
  hands.wall.post(
      [hands, line = trimmed(line), say = std::move(say)](SimTime at) { say(do_now(hands, line, at)); });
}

void LineCutter::receive(std::string_view text) {
  while (!text.empty()) {
    const auto end = text.find('\n');
    const std::string_view part = text.substr(0, end);
    if (!passing_over_ && unfinished_.size() + part.size() > kLongestLine) {
      passing_over_ = true;
      unfinished_.clear();
      takers_.too_long();
    }
    if (!passing_over_) {
      unfinished_ += part;
    }
    if (end == std::string_view::npos) {
      return;
    }
    if (!std::exchange(passing_over_, false)) {
      takers_.line(std::exchange(unfinished_, {}));
    }
    text.remove_prefix(end + 1);
  }
}

void LineCutter::end() {
  if (!unfinished_.empty()) {
    takers_.line(std::exchange(unfinished_, {}));
  }
}

}  // namespace emberline::io

#include "sim/cli/rehearse_human.hpp"

#include <string>

namespace emberline::cli {

HumanHands::HumanHands(const rehearsal::ScenarioSpec& scenario, rehearsal::Rehearsal& rehearsal,
                       io::WallBench& wall, Console& console)
    : scenario_(scenario),
      rehearsal_(rehearsal),
      console_(console),
      // By way of post(): what came due before the key was pressed is asked for first. That there is nobody
      // to press it is known before anything is asked, and an end that follows a key comes behind it.
      input_(wall, {[this, &wall](const std::string&) {
                      heard_ = true;
                      wall.post([this](SimTime at) { confirm(at); });
                    },
                    [] {},
                    [this, &wall] {
                      if (heard_)
                        wall.post([this](SimTime) { input_ended(); });
                      else
                        input_ended();
                    }}) {
  rehearsal_.leave_to_human([this](std::size_t entry) { ask(entry); });
}

std::string HumanHands::asked(std::size_t entry) const {
  std::string text = scenario_.timeline.at(entry).ask;
  if (text.find_first_of(".!?", text.empty() ? 0 : text.size() - 1) == std::string::npos) text += ".";
  return text;
}

void HumanHands::ask(std::size_t entry) {
  open_.push_back(entry);
  console_.say("NOW: " + asked(entry) + (ended_ ? "\n" : " Press Enter, then do it at once.\n"));
}

void HumanHands::confirm(SimTime at) {
  if (open_.empty()) return;
  const auto entry = open_.front();
  open_.pop_front();
  rehearsal_.done_by_human(entry, at);
  console_.say("Done: " + asked(entry) +
               (open_.empty() ? "\n" : " Still open: " + asked(open_.front()) + "\n"));
}

void HumanHands::input_ended() {
  if (std::exchange(ended_, true)) return;
  console_.say("Standard input has ended: nobody can confirm any more that something was done by hand\n");
}

}  // namespace emberline::cli

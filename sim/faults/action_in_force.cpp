#include "sim/faults/action_in_force.hpp"

#include <string_view>

#include "sim/faults/action.hpp"
#include "sim/faults/line/restore.hpp"
#include "sim/faults/mend.hpp"
#include "sim/faults/unit/cycle.hpp"
#include "sim/faults/unit/release.hpp"

namespace emberline::faults {
namespace {

std::string_view first_word(std::string_view text) { return text.substr(0, text.find(' ')); }

/// True if what is done to `whole` is done to `part` too: soak-heater and soak-heater.l1.
bool covers(std::string_view whole, std::string_view part) {
  return part.substr(0, whole.size()) == whole && (part.size() == whole.size() || part[whole.size()] == '.');
}

/// The fault that `restore LINE only FAULT` or `mend TARGET only FAULT` names; empty: all of them.
std::string_view only(const bench::ActionDone& action) {
  constexpr std::string_view kOnly = " only ";
  const auto at = action.text.find(kOnly);
  return at == std::string::npos ? std::string_view()
                                 : std::string_view(action.text).substr(at + kOnly.size());
}

bool takes_back(const bench::ActionDone& action, const InForce::Entry& entry) {
  if (!covers(action.target, entry.target)) return false;
  if (action.word == kRestore.word || action.word == kMend.word) {
    if (!only(action).empty()) return only(action) == entry.word;
    const auto* fault = find_action(entry.word);
    return action.word == kMend.word ? fault->mend != nullptr : first_word(entry.undo) == kRestore.word;
  }
  // A wire that is cycled is released when it closes again.
  return first_word(entry.undo) ==
         (action.word == kCycle.word ? kRelease.word : std::string_view(action.word));
}

}  // namespace

void InForce::done(const bench::ActionDone& action) {
  // What is done again, or put in the place of what stood, is taken back by the same words.
  std::erase_if(entries_, [&](const Entry& entry) {
    return takes_back(action, entry) || (!action.undo.empty() && entry.undo == action.undo);
  });
  if (action.undo.empty() || action.undo == action.text) return;
  entries_.push_back({action.at, action.text, action.word, action.target, action.undo});
}

}  // namespace emberline::faults

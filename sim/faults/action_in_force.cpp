#include "sim/faults/action_in_force.hpp"

#include <string_view>
#include <utility>

#include "sim/faults/action.hpp"
#include "sim/faults/line/cut.hpp"
#include "sim/faults/line/restore.hpp"
#include "sim/faults/mend.hpp"
#include "sim/faults/supply/phase_back.hpp"
#include "sim/faults/supply/phase_lost.hpp"
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
  if (action.word == kPhaseBack.word) return entry.word == kPhaseLost.word;
  // A wire that is cycled is released when it closes again.
  return first_word(entry.undo) ==
         (action.word == kCycle.word ? kRelease.word : std::string_view(action.word));
}

}  // namespace

void InForce::done(const bench::ActionDone& action) {
  std::string undo = action.undo;
  bool taken_back = false;
  std::erase_if(entries_, [&](const Entry& entry) {
    // A knob that is turned on stands where it was first turned away from.
    const bool again = entry.word == action.word && entry.target == action.target && entry.word != kCut.word;
    if (again) undo = entry.undo;
    taken_back = taken_back || entry.undo == action.text;
    // What is put in the place of what stood is taken back by the same words; two ways of a cable can be cut.
    const bool replaced = !undo.empty() && entry.undo == undo && entry.word != kCut.word;
    return again || replaced || entry.undo == action.text || takes_back(action, entry);
  });
  if (undo.empty() || taken_back || undo == action.text) return;
  entries_.push_back({action.at, action.text, action.word, action.target, std::move(undo)});
}

}  // namespace emberline::faults

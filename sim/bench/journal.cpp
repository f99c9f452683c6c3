#include "sim/bench/journal.hpp"

#include <utility>

namespace emberline::bench {

void Journal::note(SimTime at, std::string_view subject, std::string sentence) {
  add({at, std::string(subject), std::move(sentence), by_action_});
}

void Journal::Symptoms::note(SimTime at, std::string_view subject, std::string sentence) {
  journal_.add({at, std::string(subject), std::move(sentence), false});
}

void Journal::add(Entry entry) {
  entries_.push_back(std::move(entry));
  if (listener_) listener_(entries_.back());
}

}  // namespace emberline::bench

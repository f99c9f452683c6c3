#include "sim/bench/journal.hpp"

#include <cstddef>
#include <utility>

namespace emberline::bench {

void Journal::note(SimTime at, std::string_view subject, std::string sentence) {
  add({at, std::string(subject), std::move(sentence), by_action_});
}

void Journal::Symptoms::note(SimTime at, std::string_view subject, std::string sentence) {
  journal_.add({at, std::string(subject), std::move(sentence), false});
}

void Journal::add(Entry entry) {
  if (most_ != 0 && entries_.size() + 1 >= 2 * most_) {
    const std::size_t gone = entries_.size() + 1 - most_;
    entries_.erase(entries_.begin(), entries_.begin() + static_cast<std::ptrdiff_t>(gone));
    forgotten_ += gone;
  }
  entries_.push_back(std::move(entry));
  if (listener_) listener_(entries_.back());
}

}  // namespace emberline::bench

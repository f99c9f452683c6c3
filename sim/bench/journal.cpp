#include "sim/bench/journal.hpp"

#include <utility>

namespace emberline::bench {

void Journal::note(SimTime at, std::string_view subject, std::string sentence) {
  entries_.push_back({at, std::string(subject), std::move(sentence), by_action_});
  if (listener_) listener_(entries_.back());
}

}  // namespace emberline::bench

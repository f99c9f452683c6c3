#pragma once

#include <string>
#include <string_view>

#include "sim/base/sim_time.hpp"

namespace emberline {

/// Takes what happened, one sentence an entry, in simulated time. The bench keeps the entries; whoever has
/// something to tell sees only this.
class JournalSink {
 public:
  virtual ~JournalSink() = default;
  /// `subject` is the name of the unit, line, contactor or master it is about; `sentence` starts with a small
  /// letter, names quantities with units, has no full stop, and holds no path, host or wall-clock time.
  virtual void note(SimTime at, std::string_view subject, std::string sentence) = 0;
};

}  // namespace emberline

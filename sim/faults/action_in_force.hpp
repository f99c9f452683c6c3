#pragma once

#include <string>
#include <vector>

#include "sim/bench/bench.hpp"

namespace emberline::faults {

/// What was done to a bench and still stands: of each thing that can be taken back, until it is. Told by
/// Bench::on_action().
class InForce {
 public:
  struct Entry {
    SimTime since;
    std::string text;    ///< "cut field"
    std::string word;    ///< "cut"
    std::string target;  ///< "field"
    std::string undo;    ///< "restore field only cut"
  };
  void done(const bench::ActionDone& action);
  /// The oldest first.
  [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }

 private:
  std::vector<Entry> entries_;
};

}  // namespace emberline::faults

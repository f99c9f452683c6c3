#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/base/journal_sink.hpp"

namespace emberline::bench {

/// What happened, in order, one sentence an entry, in simulated time.
class Journal final : public JournalSink {
 public:
  struct Entry {
    SimTime at;
    std::string subject;
    std::string sentence;
    bool by_action = false;  ///< told while an action was carried out: what was done, not what came of it
  };
  void note(SimTime at, std::string_view subject, std::string sentence) override;
  [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }
  /// Entries from now on tell of an action that is being carried out, or no longer do.
  void tell_of_action(bool so) { by_action_ = so; }
  /// Called for every entry as it is made, for showing it live.
  void on_entry(std::function<void(const Entry&)> listener) { listener_ = std::move(listener); }

 private:
  std::vector<Entry> entries_;
  bool by_action_ = false;
  std::function<void(const Entry&)> listener_;
};

}  // namespace emberline::bench

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
  };
  void note(SimTime at, std::string_view subject, std::string sentence) override;
  [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }
  /// Called for every entry as it is made, for showing it live.
  void on_entry(std::function<void(const Entry&)> listener) { listener_ = std::move(listener); }

 private:
  std::vector<Entry> entries_;
  std::function<void(const Entry&)> listener_;
};

}  // namespace emberline::bench

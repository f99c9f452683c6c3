#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "sim/base/journal_sink.hpp"

namespace emberline::bench {

/// What happened, in order, one sentence an entry, in simulated time.
class Journal final : public JournalSink {
 public:
  Journal() = default;
  Journal(const Journal&) = delete;
  Journal& operator=(const Journal&) = delete;
  struct Entry {
    SimTime at;
    std::string subject;
    std::string sentence;
    bool by_action = false;  ///< what was done to the bench, and not what came of it
  };
  void note(SimTime at, std::string_view subject, std::string sentence) override;
  [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }
  /// From now on at least the newest `most` entries stay, and never twice as many: for a bench that runs on
  /// and on.
  void keep_newest(std::size_t most) { most_ = most; }
  /// How many entries there were before the first of entries().
  [[nodiscard]] std::uint64_t forgotten() const { return forgotten_; }
  /// Entries from now on tell of an action that is being carried out, or no longer do.
  void tell_of_action(bool so) { by_action_ = so; }
  /// For whoever only ever tells what came of something, in the midst of an action as well: units.
  [[nodiscard]] JournalSink& of_symptoms() { return symptoms_; }
  /// Called for every entry as it is made, for showing it live.
  void on_entry(std::function<void(const Entry&)> listener) { listener_ = std::move(listener); }

 private:
  class Symptoms final : public JournalSink {
   public:
    explicit Symptoms(Journal& journal) : journal_(journal) {}
    void note(SimTime at, std::string_view subject, std::string sentence) override;

   private:
    Journal& journal_;
  };
  void add(Entry entry);

  Symptoms symptoms_{*this};
  std::vector<Entry> entries_;
  std::size_t most_ = 0;  // 0: all
  std::uint64_t forgotten_ = 0;
  bool by_action_ = false;
  std::function<void(const Entry&)> listener_;
};

}  // namespace emberline::bench

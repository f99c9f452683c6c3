#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <string>
#include <vector>

#include "sim/bench/journal.hpp"
#include "sim/io/panel/site.hpp"

namespace emberline::io {

/// The journal as pages read it: entries numbered from 1. In blind mode watchers have numbers of their own,
/// of what they may see, so that no gap tells of what they may not. Only the newest are kept. On the panel's
/// thread.
class JournalFeed {
 public:
  static constexpr std::size_t kMost = 20'000;  ///< entries that are kept
  void take(std::vector<bench::Journal::Entry> entries);
  /// The number of the last entry; 0: there is none.
  [[nodiscard]] std::uint64_t last(bool blind) const;
  /// {"entries":[...],"last":N}: those after a number, at most `limit`, the oldest of them first.
  [[nodiscard]] std::string json(bool blind, std::uint64_t after, std::size_t limit) const;
  /// {"type":"journal","entries":[...]}; `after` becomes the number of the last of them.
  [[nodiscard]] std::string message(bool blind, std::uint64_t& after, std::size_t limit) const;

 private:
  [[nodiscard]] std::uint64_t put_entries(class JsonText& json, bool blind, std::uint64_t after,
                                          std::size_t limit) const;

  [[nodiscard]] std::uint64_t forgotten(bool blind) const;

  std::deque<bench::Journal::Entry> entries_;
  std::uint64_t forgotten_ = 0;           // entries before entries_.front()
  std::deque<std::uint64_t> seen_blind_;  // numbers, less one, of entries that no action wrote
  std::uint64_t forgotten_blind_ = 0;
};

}  // namespace emberline::io

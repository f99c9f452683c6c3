#include "sim/io/panel/journal_feed.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

#include "sim/io/report/json_text.hpp"

namespace emberline::io {

void JournalFeed::take(std::vector<bench::Journal::Entry> entries) {
  for (auto& entry : entries) {
    if (!entry.by_action) seen_blind_.push_back(forgotten_ + entries_.size());
    entries_.push_back(std::move(entry));
    if (entries_.size() > kMost) {
      entries_.pop_front();
      ++forgotten_;
    }
  }
  while (!seen_blind_.empty() && seen_blind_.front() < forgotten_) {
    seen_blind_.pop_front();
    ++forgotten_blind_;
  }
}

std::uint64_t JournalFeed::forgotten(bool blind) const { return blind ? forgotten_blind_ : forgotten_; }

std::uint64_t JournalFeed::last(bool blind) const {
  return forgotten(blind) + (blind ? seen_blind_.size() : entries_.size());
}

std::uint64_t JournalFeed::put_entries(JsonText& json, bool blind, std::uint64_t after,
                                       std::size_t limit) const {
  const std::uint64_t end = last(blind);
  std::uint64_t n = std::clamp(after, forgotten(blind), end);
  const std::uint64_t until = std::min<std::uint64_t>(end, n + limit);
  json.key("entries").array();
  while (n < until) {
    const auto place = blind ? seen_blind_[n - forgotten_blind_] : n;
    const auto& entry = entries_[place - forgotten_];
    ++n;
    json.object().key("n").whole(n).key("at").time(entry.at);
    json.key("subject").text(entry.subject).key("sentence").text(entry.sentence);
    json.key("by_action").flag(entry.by_action).end_object();
  }
  json.end_array();
  return n;
}

std::string JournalFeed::json(bool blind, std::uint64_t after, std::size_t limit) const {
  JsonText json;
  json.object();
  (void)put_entries(json, blind, after, limit);
  json.key("last").whole(last(blind)).end_object();
  return std::move(json).finished();
}

std::string JournalFeed::message(bool blind, std::uint64_t& after, std::size_t limit) const {
  JsonText json;
  json.object().key("type").text("journal");
  after = put_entries(json, blind, after, limit);
  json.end_object();
  return std::move(json).finished();
}

}  // namespace emberline::io

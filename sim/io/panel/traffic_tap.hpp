#pragma once

#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/bench/line_observer.hpp"

namespace emberline::io {

/// What is told of everything that is seen on a line.
struct LineMark {
  enum class Kind : std::uint8_t { began, ended, frame, bytes, request, answer, missed };
  Kind kind = Kind::frame;
  bool addressed = false;                                ///< request
  bool silent = false;                                   ///< request: it gets no answer
  bool late = false;                                     ///< answer
  std::uint8_t unit_id = 0;                              ///< request
  bench::SessionEnd end = bench::SessionEnd::by_master;  ///< ended
  std::uint64_t session = 0;
  std::size_t line = 0;
  SimTime at;                   ///< missed: of the first that was
  std::uint64_t number = 0;     ///< frame (0: broken), request, answer
  std::size_t query_size = 0;   ///< request
  std::size_t answer_size = 0;  ///< request
};

/// What went over a line and is told in numbers only.
struct NumbersOnly {
  std::uint64_t requests = 0;
  SimTime first_request;  ///< if there was any
  SimTime last_request;
  std::uint64_t broken = 0;
  std::uint64_t frames = 0;  ///< requests, and answers that were given to them
  std::uint64_t bytes = 0;   ///< of those frames
};

/// Something that was seen on a line. What it refers to is with whoever it was fetched from.
struct LineEvent : LineMark {
  modbus::ByteView bytes;                ///< frame, bytes
  std::string_view master;               ///< began
  const NumbersOnly* numbers = nullptr;  ///< missed
};

/// Copies what goes over the lines on the bench's thread, for whoever fetches it on another. Holds a bounded
/// number of events: of more between two fetches the newest are missed, and only counted. Whoever fetches is
/// then told of each line that something was missed of (`missed`), what it came to, and of every connection
/// to it that is open (`began`), so that nobody waits for the end of one that is gone.
///
/// The bound is what watching may cost: keeping a hundred thousand requests a second, and taking them up on
/// the other thread ten times a second in one go, made answers late by milliseconds.
class TrafficTap final : public bench::LineObserver {
 public:
  static constexpr std::size_t kMost = 8000;  ///< two thousand requests with their answers

  void session_began(const bench::SessionSeen& session) override;
  void session_ended(const bench::SessionSeen& session) override;
  /// Only those to masters are kept.
  void bytes(const bench::BytesSeen& bytes) override;
  void frame(const bench::FrameSeen& frame) override;
  void request(const bench::RequestSeen& request) override;
  void answer(const bench::AnswerSeen& answer) override;

  /// Puts what is kept where it is fetched, if what was put there before has been. False: somebody fetches at
  /// this very moment, and the bench's thread does not wait. On that thread.
  [[nodiscard]] bool hand_over();
  /// What has come since the last call, in order, instead of what is in `events`; good until the next call.
  /// For one thread.
  void fetch(std::vector<LineEvent>& events);

 private:
  /// Events in few pieces of memory, which are used again: of thousands a second none is worth an allocation.
  struct Batch {
    struct Entry {
      LineMark mark;
      std::size_t size = 0;  // of its part of `text`: bytes, or the master's name
    };
    std::vector<Entry> entries;
    modbus::Bytes text;
    std::vector<NumbersOnly> numbers;  // of the marks that say so
    void add(const LineMark& mark, modbus::ByteView own);
    void clear();
  };
  struct Open {
    LineMark mark;
    std::string master;
  };
  void keep(const LineMark& mark, modbus::ByteView own = {});
  void tell_what_was_missed();

  /// What is missed of a line, until that has been told: since when, if anything is, and what it came to.
  struct Missed {
    std::optional<SimTime> first;
    NumbersOnly numbers;
  };
  [[nodiscard]] Missed* missed_on(std::size_t line);  // null: nothing is missed at the moment
  std::map<std::uint64_t, Open> open_;                // the bench's thread: by session
  std::vector<Missed> missed_;                        // likewise: by line; empty while nothing is missed
  Batch kept_;                                        // likewise
  std::mutex mutex_;                                  // to ready_
  Batch ready_;
  Batch fetched_;  // the fetching thread: what the latest events refer to
};

}  // namespace emberline::io

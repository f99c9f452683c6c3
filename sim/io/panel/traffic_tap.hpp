#pragma once

#include <cstdint>
#include <mutex>
#include <string>
#include <vector>

#include "sim/bench/line_observer.hpp"

namespace emberline::io {

/// Something that was seen on a line, copied for another thread.
struct LineEvent {
  enum class Kind : std::uint8_t { began, ended, bytes, request, answer };
  Kind kind = Kind::bytes;
  std::uint64_t session = 0;
  std::size_t line = 0;
  SimTime at;
  bool to_master = false;                                ///< bytes
  bool broken = false;                                   ///< bytes
  bool addressed = false;                                ///< request
  bool silent = false;                                   ///< request: it gets no answer
  bool late = false;                                     ///< answer
  std::uint8_t unit_id = 0;                              ///< request
  std::uint64_t number = 0;                              ///< request, answer
  std::size_t query_size = 0;                            ///< request
  std::size_t answer_size = 0;                           ///< request
  bench::SessionEnd end = bench::SessionEnd::by_master;  ///< ended
  modbus::Bytes bytes;                                   ///< bytes
  std::string master;                                    ///< began
};

/// Copies what goes over the lines on the bench's thread, for whoever fetches it on another. Holds a bounded
/// number of events: whoever does not fetch misses the newest.
class TrafficTap final : public bench::LineObserver {
 public:
  static constexpr std::size_t kMost = 40000;

  void session_began(const bench::SessionSeen& session) override;
  void session_ended(const bench::SessionSeen& session) override;
  void bytes(const bench::BytesSeen& bytes) override;
  void request(const bench::RequestSeen& request) override;
  void answer(const bench::AnswerSeen& answer) override;

  /// Puts what is kept where it is fetched, unless somebody fetches at this very moment: the bench's thread
  /// does not wait. On the bench's thread; happens with every event too.
  void flush();
  /// What has come since the last call, in order. Callable from any thread.
  [[nodiscard]] std::vector<LineEvent> fetch();

 private:
  void keep(LineEvent event);

  std::vector<LineEvent> kept_;  // the bench's thread
  std::mutex mutex_;             // to events_
  std::vector<LineEvent> events_;
};

}  // namespace emberline::io

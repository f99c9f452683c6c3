#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/io/panel/hub_facts.hpp"
#include "sim/io/panel/traffic_tap.hpp"

namespace emberline::io {

/// The last frames that stood on the lines, and how busy each line is. On the panel's thread.
class TrafficFeed {
 public:
  static constexpr std::size_t kMost = 20000;  ///< frames that are kept
  /// How long an answer is waited for before its request is said to have none.
  static constexpr Duration kPatience = std::chrono::seconds{1};

  /// `facts` must outlive this.
  explicit TrafficFeed(const BenchFacts& facts);
  void take(const std::vector<LineEvent>& events);

  /// What became of a frame.
  enum class Fate : std::uint8_t {
    settled,    ///< nothing to say: no request, or an answer to it has left
    open,       ///< a request whose answer may still come
    unheard,    ///< a request: nobody on the line has the id
    silence,    ///< a request that was heard, and gets no answer
    no_answer,  ///< a request to which none has left in time, whatever became of it
  };
  /// One frame, or what was taken for one.
  struct Frame {
    std::uint64_t n = 0;  ///< counts from 1
    SimTime at;
    std::size_t line = 0;
    std::uint64_t session = 0;
    std::string master;
    bool to_units = true;
    bool broken = false;        ///< no frame could be made out
    Fate fate = Fate::settled;  ///< as far as events tell; see fate()
    bool late = false;          ///< an answer that left after the master's next request
    std::uint64_t request = 0;  ///< an answer: `n` of the frame it answers; 0: not known
    modbus::Bytes bytes;
  };
  /// The frames that are kept, the oldest first; their numbers follow each other.
  [[nodiscard]] const std::deque<Frame>& frames() const { return frames_; }
  /// The frame with this number; null when it has gone, or was never there.
  [[nodiscard]] const Frame* frame(std::uint64_t n) const;
  [[nodiscard]] std::uint64_t last() const { return last_; }
  /// What has become of a frame by now.
  [[nodiscard]] static Fate fate(const Frame& frame, SimTime now);
  /// The number of the last frame before the first whose fate is open: so far all is told that will be.
  [[nodiscard]] std::uint64_t settled(SimTime now);
  /// Where in frames() those begin and end that come after number `after`, up to number `last`, at most
  /// `limit` of them: the newest.
  [[nodiscard]] std::pair<std::size_t, std::size_t> between(std::uint64_t after, std::uint64_t last,
                                                            std::size_t limit) const;

  /// Connections that have ended, with the number of the last frame before it.
  struct Ended {
    std::uint64_t after = 0;
    std::uint64_t session = 0;
    std::size_t line = 0;
    SimTime at;
    bench::SessionEnd how = bench::SessionEnd::by_master;
  };
  [[nodiscard]] const std::deque<Ended>& ended() const { return ended_; }
  /// How many connections are open, as far as events tell.
  [[nodiscard]] std::size_t open() const { return sessions_.size(); }

  /// How busy a line is.
  struct Busy {
    std::uint64_t requests = 0;
    std::uint64_t broken = 0;
    double per_second = 0.0;           ///< over the last two seconds
    std::optional<double> time_share;  ///< of the same two seconds; RTU lines only
    std::optional<Duration> last_request_age;
    struct Asker {
      std::string master;
      int unit_id = 0;
      double per_second = 0.0;
    };
    std::vector<Asker> askers;  ///< who asked whom in that time; of what was only counted, as of the rest
  };
  [[nodiscard]] Busy busy(std::size_t line, SimTime now) const;

 private:
  struct Session {
    std::string master;
    std::uint64_t good = 0;              // requests so far
    std::deque<std::uint64_t> frame_of;  // `n` of the latest requests; the last is number `good`
    std::string asker;                   // the master without its port
    std::uint64_t last_request = 0;      // `n`
    std::uint64_t last_frame = 0;        // `n`, any way
    std::size_t line = 0;
  };
  /// Requests of one master to one unit that came within a millisecond. Without a master: of anybody to
  /// anybody, only counted, and taken as evenly spread.
  struct Asked {
    SimTime at;    // of the first
    SimTime last;  // of those that were only counted, else of the first
    std::string master;
    int unit_id = 0;
    std::uint64_t times = 0;
    Duration time_used{};
  };
  struct Line {
    std::uint64_t requests = 0;
    std::uint64_t broken = 0;
    std::optional<SimTime> last;
    std::deque<Asked> recent;
  };

  void take_begin(const LineEvent& event);
  void take_end(const LineEvent& event);
  void take_missed(const LineEvent& event);
  void count_missed(const LineEvent& event);
  static void forget_old(Line& line, SimTime now);
  Session& session_of(const LineEvent& event);
  /// What became of the session's requests that are open: they have no answer if they had waited too long at
  /// `at`, `otherwise` if not.
  void settle_open(const Session& session, SimTime at, Fate otherwise);
  void take_frame(const LineEvent& event);
  void take_bytes(const LineEvent& event);
  void take_request(const LineEvent& event);
  void take_answer(const LineEvent& event);
  static void count(Line& line, const LineEvent& event, const std::string& asker, Duration time_used);
  [[nodiscard]] static std::optional<std::uint64_t> frame_of(const Session& session, std::uint64_t number);
  Frame& add(Session& session, const LineEvent& event);
  [[nodiscard]] Frame* find(std::uint64_t n);

  const BenchFacts& facts_;
  std::deque<Frame> frames_;
  std::deque<Ended> ended_;
  std::uint64_t last_ = 0;
  std::uint64_t settled_ = 0;  // up to this number no fate is open
  std::map<std::uint64_t, Session> sessions_;
  std::vector<Line> lines_;
};

}  // namespace emberline::io

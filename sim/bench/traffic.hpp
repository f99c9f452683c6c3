#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <unordered_map>
#include <utility>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/bench/line_observer.hpp"
#include "sim/bench/retries.hpp"

namespace emberline::bench {

/// What a master asked of one slave over one line.
struct TrafficPair {
  std::string line;
  std::string master;
  int unit_id = 0;
  std::string slave;  ///< its name; empty: nobody has the id; "everybody": broadcasts
  std::uint64_t requests = 0;
  double per_second = 0.0;  ///< from its first request to its last; 0 where that is less than a second
  std::uint64_t writes = 0;
  std::map<int, std::uint64_t> exceptions;  ///< by code
  std::uint64_t silent = 0;                 ///< requests nobody answered
  std::uint64_t retries = 0;  ///< requests that were the one before, asked again because no answer had come
  std::uint64_t late = 0;     ///< answers that went out after the master's next request

  /// A read or write that came again and again.
  struct Block {
    int function = 0;
    std::uint16_t first = 0;
    int count = 0;
    std::uint64_t times = 0;
  };
  std::vector<Block> blocks;  ///< reads, then writes, by address
  /// Reads that one request could do: the blocks' places in `blocks`, and the read that takes them all.
  struct Merge {
    std::vector<std::size_t> of;
    std::uint16_t first = 0;
    int count = 0;
  };
  std::vector<Merge> merges;
  /// Non-volatile points that are written again and again.
  struct KeptWrite {
    std::string point;
    std::uint64_t times = 0;
    Duration period{};  ///< between writes, on average
  };
  std::vector<KeptWrite> kept_writes;
};

/// How much of a line is used.
struct TrafficLine {
  std::string line;
  std::uint64_t requests = 0;
  std::uint64_t answers = 0;
  std::uint64_t broken = 0;          ///< what came towards the units and was no frame
  std::optional<double> time_share;  ///< RTU: of the time from the first to the last request, frames and the
                                     ///< silences they need
  Duration time_used{};              ///< RTU: in all
};

struct TrafficReview {
  std::vector<TrafficLine> lines;  ///< that had any traffic, in the order of the bench
  std::vector<TrafficPair> pairs;  ///< by line, master and unit id
};

/// Counts what goes over the lines of a bench, and tells at any time what a practitioner would say about it.
class Traffic final : public LineObserver {
 public:
  /// `spec` must outlive this.
  explicit Traffic(const BenchSpec& spec) : spec_(spec), lines_(spec.lines.size()), retries_(spec) {}
  void bytes(const BytesSeen& bytes) override;
  void frame(const FrameSeen& frame) override;
  void request(const RequestSeen& request) override;
  void answer(const AnswerSeen& answer) override;
  void session_ended(const SessionSeen& session) override;
  [[nodiscard]] TrafficReview review() const;

 private:
  struct BlockKey {
    int function;
    std::uint16_t first;
    int count;
    bool writes;
    bool operator<(const BlockKey& other) const {
      return std::tie(function, first, count, writes) <
             std::tie(other.function, other.first, other.count, other.writes);
    }
  };
  struct Seen {
    std::uint64_t times = 0;
    SimTime first{};
    SimTime last{};
  };
  struct Pair {
    TrafficPair counts;
    SimTime first{};
    SimTime last{};
    std::map<BlockKey, Seen> blocks;
  };
  struct Line {
    TrafficLine counts;
    SimTime first{};
    SimTime last{};
  };
  static void count_block(Pair& pair, const RequestSeen& request, modbus::AddressRange range, bool writes);
  [[nodiscard]] Pair& pair_of(const RequestSeen& request);
  [[nodiscard]] TrafficPair finished(const Pair& pair) const;
  static void count_kept_writes(const Pair& pair, const unit::UnitSpec& unit, TrafficPair& result);

  const BenchSpec& spec_;
  std::vector<Line> lines_;
  std::map<std::tuple<std::size_t, std::string, int>, Pair> pairs_;
  std::unordered_map<std::uint64_t, std::vector<std::pair<int, Pair*>>>
      of_session_;  ///< by unit id, as far as met
  Retries retries_;
};

}  // namespace emberline::bench

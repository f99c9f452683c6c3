#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <unordered_map>
#include <utility>

#include "sim/bench/bench_spec.hpp"
#include "sim/bench/line_observer.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::bench {

/// Tells a retry from a further request: it is byte for byte the request before it in the same session, unit
/// id and PDU, for which no answer had gone out by then. On TCP the request before the first of a connection
/// is the last one that the same master, whatever port it came from, sent over another connection to the
/// line: some hang up and connect anew when an answer is missing. A broadcast has no answer and is never
/// retried; an answer that comes after the next request is none. On serial ports an answer of a real slave
/// beside ours counts, too.
class Retries {
 public:
  /// `spec` must outlive this.
  explicit Retries(const BenchSpec& spec) : spec_(spec) {}
  /// Hand over all that goes over the lines, in its order.
  void bytes(const BytesSeen& bytes);
  /// True if this request is the one before once more.
  bool request(const RequestSeen& request);
  void answer(const AnswerSeen& answer);
  void session_ended(const SessionSeen& session);

 private:
  /// What is known of a session's latest request.
  struct Session {
    modbus::Bytes asked;  ///< unit id and PDU
    bool answered = true;
    bool ended = false;
    std::uint64_t* latest = nullptr;  ///< its master's, in `latest_`
  };
  using Master = std::pair<std::size_t, std::string>;  ///< its line, and who it is without a port
  void take_up(const RequestSeen& request, Session& session, bool is_new);

  const BenchSpec& spec_;
  /// Those that have not ended, and the latest of each master.
  std::unordered_map<std::uint64_t, Session> sessions_;
  std::map<Master, std::uint64_t> latest_;  ///< on TCP: the session in which it asked last
};

}  // namespace emberline::bench

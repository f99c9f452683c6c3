#pragma once

#include <cstdint>
#include <map>

#include "sim/bench/bench_spec.hpp"
#include "sim/bench/line_observer.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::bench {

/// Tells a retry from a further request: it is byte for byte the request before it in the same session, unit
/// id and PDU, for which no answer had gone out by then. A broadcast has no answer and is never retried; an
/// answer that comes after the next request is none. On serial ports an answer of a real slave beside ours
/// counts, too.
class Retries {
 public:
  /// `spec` must outlive this.
  explicit Retries(const BenchSpec& spec) : spec_(spec) {}
  /// Hand over all that goes over the lines, in its order.
  void bytes(const BytesSeen& bytes);
  /// True if this request is the one before once more.
  bool request(const RequestSeen& request);
  void answer(const AnswerSeen& answer);
  void session_ended(const SessionSeen& session) { sessions_.erase(session.session); }

 private:
  /// What is known of a session's latest request.
  struct Session {
    modbus::Bytes asked;  ///< unit id and PDU
    bool answered = true;
  };
  const BenchSpec& spec_;
  std::map<std::uint64_t, Session> sessions_;
};

}  // namespace emberline::bench

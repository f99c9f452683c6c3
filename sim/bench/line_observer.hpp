#pragma once

#include <cstdint>
#include <string_view>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::bench {

/// How a connection came to its end.
enum class SessionEnd : std::uint8_t { by_master, by_bench, reset_by_bench };

/// A connection of a master to a line, from its first byte on. Views hold during the call only.
struct SessionSeen {
  std::uint64_t session = 0;  ///< never used twice in one run
  std::size_t line = 0;
  std::string_view master;
  SimTime at;
  SessionEnd end = SessionEnd::by_master;  ///< when it ends
};

/// Bytes as they stood on a line: towards the units as they arrived there, towards a master as they left. On
/// RTU lines one frame each, or what was taken for one; on TCP one segment of the stream.
struct BytesSeen {
  std::uint64_t session = 0;
  std::size_t line = 0;
  bool to_master = false;
  SimTime at;  ///< of the last byte
  modbus::ByteView bytes;
};

/// A request's frame, as soon as it is there whole, before anything holds it up or loses it on its way. Or
/// what is none, as soon as that is known: a bad CRC, a wrong length (on TCP with what stood behind it), a
/// foreign protocol. Told after the bytes() that it consists of.
struct FrameSeen {
  std::uint64_t session = 0;
  std::uint64_t number = 0;  ///< among the requests of the session, from 1; 0: this is none
  std::size_t line = 0;
  SimTime at;  ///< of the last byte; of one that silence has ended, when that had lasted
  modbus::ByteView bytes;
  [[nodiscard]] bool broken() const { return number == 0; }
};

/// A request that came whole, and what was answered to it, whatever became of the answer on the way.
struct RequestSeen {
  std::uint64_t session = 0;
  std::uint64_t number = 0;  ///< of its frame
  std::size_t line = 0;
  std::string_view master;
  SimTime at;  ///< when the units had it
  std::uint8_t unit_id = 0;
  modbus::ByteView pdu;
  bool addressed = false;      ///< somebody on the line has the id, or it was a broadcast
  modbus::ByteView answer;     ///< the answer's PDU; empty: silence
  std::size_t query_size = 0;  ///< bytes of the whole frame
  std::size_t answer_size = 0;
  SimTime asked_at{};  ///< when its last byte was there; before `at` if an impairment held it up
};

/// An answer, or what was left of it, that went out to a master.
struct AnswerSeen {
  std::uint64_t session = 0;
  std::uint64_t number = 0;  ///< of the request it belongs to
  std::size_t line = 0;
  std::string_view master;
  SimTime at;         ///< of the last byte
  bool late = false;  ///< the master had sent a further request before it
  modbus::ByteView bytes;
};

/// Sees all that goes over the lines of a bench: for captures, reviews and hints. Never changes anything.
class LineObserver {
 public:
  virtual ~LineObserver() = default;
  virtual void session_began(const SessionSeen& /*session*/) {}
  virtual void session_ended(const SessionSeen& /*session*/) {}
  virtual void bytes(const BytesSeen& /*bytes*/) {}
  virtual void frame(const FrameSeen& /*frame*/) {}
  virtual void request(const RequestSeen& /*request*/) {}
  virtual void answer(const AnswerSeen& /*answer*/) {}
  /// A write that reached a point of a unit, taken or not; before the request it came with.
  virtual void write(const unit::WriteSeen& /*write*/) {}
};

}  // namespace emberline::bench

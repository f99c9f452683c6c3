#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "sim/base/random.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::bench {

/// A whole request that came over a line, as an impairment sees it. Its views hold during the call only.
struct Query {
  std::uint64_t session = 0;  ///< the connection it came over; a serial line has one
  std::uint64_t number = 0;   ///< its place among the requests of the session, from 1
  SimTime at;                 ///< when its last byte was there, or would have been at the line's speed
  bool rtu = true;            ///< an RTU frame; otherwise one of Modbus TCP
  Duration character{};       ///< what a byte takes on this line; 0 on TCP and on lines without pacing
  std::uint8_t unit_id = 0;
  modbus::ByteView pdu;
  modbus::ByteView frame;  ///< as it stood on the wire
};

/// Bytes on their way to a master, sent in one write when the last of them is through.
struct Piece {
  SimTime due;
  modbus::Bytes bytes;
  bool echo = false;         ///< the master's own request come back, no answer of a unit
  std::uint64_t number = 0;  ///< of the request it belongs to; 0: the one at hand
  SimTime asked_at{};        ///< when the last byte of that request was there
};

/// What a TCP line does with connections, apart from what it does with frames.
struct TcpConduct {
  bool refuses = false;  ///< nobody listens: connections are refused, those that are there go on
  bool silent = false;   ///< connections are accepted, but nothing on any of them is read or answered
  std::optional<SimTime> half_open_since;  ///< connections from before this are dead without knowing it
  std::uint64_t resets = 0;                ///< how often all connections were torn down with a reset
  SimTime reset_at{};                      ///< the last time
  bool operator==(const TcpConduct&) const = default;
};

/// One way in which a line fails: what it does to bytes and frames that pass. Installed on a line of a bench,
/// where it stands until it is lifted; everything random comes from the bench's one source.
class Impairment {
 public:
  virtual ~Impairment() = default;
  /// Bytes on their way to the units, before anybody looks for a frame in them. RTU lines only: TCP carries
  /// checksums of its own.
  virtual void bytes_in(modbus::Bytes& /*bytes*/, Random& /*chance*/) {}
  /// How long a whole request is held up before a unit gets it; nothing: it is lost.
  virtual std::optional<Duration> request(const Query& /*query*/, Random& /*chance*/) { return Duration{}; }
  /// What goes back after a request: no piece when nobody answers. Pieces may be changed, put off, dropped
  /// and added; they leave in the order of the list, none before the one ahead of it.
  virtual void answer(const Query& /*query*/, std::vector<Piece>& /*pieces*/, Random& /*chance*/) {}
  /// What it does to the connections of a TCP line while it stands.
  virtual void conduct(TcpConduct& /*conduct*/) const {}
};

}  // namespace emberline::bench

#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "sim/modbus/rtu_framer.hpp"

namespace emberline::bench {

/// One connection of a master to a line of the bench: bytes in, whole answers with the instant of their last
/// byte out. Knows framing and pacing, does no I/O and reads no clock. An RTU line (pty, serial port) has one
/// session for the whole wire, a TCP line one for each connection.
class LineSession {
 public:
  struct Outgoing {
    SimTime due;          ///< when the answer's last byte is through: RTU last byte in + t3.5 + the answer's
                          ///< characters; TCP at once
    modbus::Bytes bytes;  ///< the whole frame, to be sent in one write at `due`
  };
  struct Options {
    bool strict = false;  ///< RTU: only silence ends a frame (t1.5/t3.5), as in stepped time
  };
  /// `master` is the name the journal uses for whoever is at the other end. The bench must outlive the
  /// session.
  LineSession(Bench& bench, std::size_t line, std::string master, Options options);

  /// Bytes whose last one came at `at`. While the line is cut they are discarded.
  void receive(modbus::ByteView bytes, SimTime at);
  /// The instant at which poll() will have something to do because of silence.
  [[nodiscard]] std::optional<SimTime> wake_at() const;
  /// Takes up what is complete at `now`; answers come out in order. An answer to a request given during a cut
  /// is lost.
  [[nodiscard]] std::vector<Outgoing> poll(SimTime now);
  /// True when the stream can no longer be followed and the connection is to be closed: TCP with a length
  /// that cannot be, or one that contradicts what the function code of the request implies. On TCP the length
  /// field alone tells where the next request begins, so once it is proved wrong every byte behind it could
  /// be taken for something it is not, a write included.
  [[nodiscard]] bool lost() const;
  /// Forgets an unfinished frame.
  void reset();
  /// Good frames so far, whoever they were for.
  [[nodiscard]] std::uint64_t requests() const { return requests_; }
  /// Bytes so far that were no frame: bad CRC, wrong length, foreign protocol.
  [[nodiscard]] std::uint64_t faults() const { return faults_; }
  /// Bytes so far that came while the line was cut.
  [[nodiscard]] std::uint64_t swallowed() const { return swallowed_; }

 private:
  void take_up_rtu(SimTime now, std::vector<Outgoing>& answers);
  void take_up_mbap(SimTime now, std::vector<Outgoing>& answers);

  Bench& bench_;
  std::size_t line_;
  std::string master_;
  std::optional<modbus::RtuFramer> rtu_;
  std::optional<modbus::MbapFramer> mbap_;
  Duration t3_5_{};
  SimTime busy_until_{};  ///< RTU: an answer is still going out until then
  std::uint64_t requests_ = 0;
  std::uint64_t faults_ = 0;
  std::uint64_t swallowed_ = 0;
};

}  // namespace emberline::bench

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
/// byte out. Knows framing, pacing and the line's impairments, does no I/O and reads no clock. A pty or
/// serial-port line has one session for the whole wire, a TCP line one for each connection.
///
/// The way of a request: bytes -> cut? -> impairments of bytes (RTU) -> framer -> impairments of requests
/// (lost, held up) -> bench -> answer -> pacing -> impairments of answers -> cut? -> whoever sends it.
class LineSession {
 public:
  struct Outgoing {
    SimTime due;              ///< when the answer's last byte is through: RTU last byte in + what the unit
                              ///< needs + t3.5 + the answer's characters; TCP when the unit has it ready
    modbus::Bytes bytes;      ///< the whole frame, to be sent in one write at `due`
    std::uint64_t query = 0;  ///< the number of the request it belongs to
    SimTime asked_at{};       ///< when the last byte of that request was there
  };
  struct Options {
    bool strict = false;         ///< RTU: only silence ends a frame (t1.5/t3.5), as in stepped time
    bool comes_at_once = false;  ///< as comes_at_once() says
  };
  /// What has passed so far.
  struct Counters {
    std::uint64_t requests = 0;   ///< good frames, whoever they were for
    std::uint64_t faults = 0;     ///< bytes that were no frame: bad CRC, wrong length, foreign protocol
    std::uint64_t answers = 0;    ///< that went out, whole or not
    std::uint64_t late = 0;       ///< of them: after the master had sent a further request
    std::uint64_t swallowed = 0;  ///< bytes that came while the line was cut
    Counters& operator+=(const Counters& other);
  };
  /// `master` is the name the journal uses for whoever is at the other end. The bench must outlive the
  /// session.
  LineSession(Bench& bench, std::size_t line, std::string master, Options options);
  LineSession(const LineSession&) = delete;
  /// RTU: whether requests come without the time their characters take, as over a pseudo-terminal or a TCP
  /// stream. On a paced line they are then answered as if their last byte had come so much later.
  void comes_at_once(bool at_once) { comes_at_once_ = at_once; }
  LineSession& operator=(const LineSession&) = delete;

  /// Bytes whose last one came at `at`. While the line is cut towards the units they are discarded.
  void receive(modbus::ByteView bytes, SimTime at);
  /// The instant at which poll() will have something to do by itself: silence ends a frame, or a request was
  /// held up until then.
  [[nodiscard]] std::optional<SimTime> wake_at() const;
  /// Takes up what is complete at `now`; what goes back comes out in order. An answer to a request given
  /// during a cut is lost.
  [[nodiscard]] std::vector<Outgoing> poll(SimTime now);
  /// The same, added to `answers`.
  void poll(SimTime now, std::vector<Outgoing>& answers);
  /// Has to be called for every piece that did go out, when it did.
  void sent(const Outgoing& piece, SimTime at);
  /// True when the stream can no longer be followed and the connection is to be closed: TCP with a length
  /// that cannot be, or one that contradicts what the function code of the request implies. On TCP the length
  /// field alone tells where the next request begins, so once it is proved wrong every byte behind it could
  /// be taken for something it is not, a write included.
  [[nodiscard]] bool lost() const;
  /// RTU: true if a frame has begun and not ended, so that a pause would be taken for its end.
  [[nodiscard]] bool within_frame() const { return rtu_ && rtu_->unfinished(); }
  /// How many requests an impairment holds up at the moment.
  [[nodiscard]] std::size_t held_up() const { return held_.size(); }
  /// Forgets an unfinished frame and what is held up.
  void reset();
  /// The connection is over; observers hear of it once.
  void end(SimTime at, SessionEnd how = SessionEnd::by_master);

  [[nodiscard]] const Counters& counters() const { return counters_; }
  [[nodiscard]] std::uint64_t requests() const { return counters_.requests; }
  [[nodiscard]] std::uint64_t faults() const { return counters_.faults; }
  [[nodiscard]] std::uint64_t swallowed() const { return counters_.swallowed; }

 private:
  /// A request with everything its answer needs, kept while it is held up.
  struct Asked {
    std::uint64_t number = 0;
    SimTime at;
    std::uint8_t unit_id = 0;
    std::uint16_t transaction = 0;  ///< TCP
    modbus::Bytes frame;            ///< as it came
    std::uint8_t pdu_at = 0;        ///< where its PDU begins in `frame`
    std::uint8_t pdu_size = 0;
    [[nodiscard]] modbus::ByteView pdu() const { return modbus::ByteView(frame).subspan(pdu_at, pdu_size); }
    Duration coming{};  ///< what its characters would have taken, had they not come at once
    SimTime delivered;  ///< when its last byte is with the units, after what held it up, without `coming`
  };

  void fetch_rtu(SimTime now, std::vector<Outgoing>& answers);
  void fetch_mbap(SimTime now, std::vector<Outgoing>& answers);
  void came(Asked& asked, SimTime now, std::vector<Outgoing>& answers);
  void forget_what_was_lifted();
  void take_up(const Asked& asked, SimTime now, std::vector<Outgoing>& answers);
  [[nodiscard]] SimTime due_of(const Asked& asked, const Bench::Reply& reply, std::size_t size, SimTime now);
  [[nodiscard]] Query query_of(const Asked& asked) const;
  void show_bytes(bool to_master, SimTime at, modbus::ByteView bytes) const;
  void show_frame(std::uint64_t number, SimTime at, modbus::ByteView bytes) const;
  void begin(SimTime at);

  Bench& bench_;
  std::size_t line_;
  std::string master_;
  bool comes_at_once_;
  std::uint64_t id_;
  std::optional<modbus::RtuFramer> rtu_;
  std::optional<modbus::MbapFramer> mbap_;
  SimTime busy_until_{};       ///< RTU: an answer is still going out until then
  std::uint64_t lifts_ = 0;    ///< of the line, as far as the next two have heard of it
  SimTime last_due_{};         ///< no piece leaves before the one ahead of it
  SimTime last_delivered_{};   ///< no request is delivered before the one ahead of it
  std::deque<Asked> held_;     ///< requests that an impairment holds up, by when they are delivered
  Asked latest_;               ///< the one being taken up, where nothing holds it up; kept for its memory
  std::vector<Piece> pieces_;  ///< of its answer; likewise
  bool begun_ = false;         ///< observers have heard of it
  bool ended_ = false;
  Counters counters_;
};

}  // namespace emberline::bench

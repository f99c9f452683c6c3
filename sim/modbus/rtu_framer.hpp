#pragma once

#include <bitset>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <variant>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::modbus {

/// Bytes of the longest RTU frame (MODBUS over Serial Line V1.02, 2.5.1).
inline constexpr std::size_t kLongestRtuFrame = 256;

/// A good RTU request frame: the CRC was right and is taken off.
struct RtuRequest {
  std::uint8_t address;  ///< 0 is broadcast
  Bytes pdu;             ///< function code first
  SimTime last_byte;     ///< when its last byte was there
};

/// Bytes that are no frame. They get no answer, change nothing and feed no watchdog.
struct RtuFault {
  enum class Kind {
    bad_crc,
    too_short,  ///< fewer than 4 bytes: address, function code and CRC
    too_long,   ///< more than 256 bytes without a silence
    gap_inside  ///< strict timing: a silence of more than t1.5, but less than t3.5
  };
  Kind kind;
  Bytes bytes;  ///< what came, at most the first 256 bytes of it
  SimTime at;   ///< when the silence behind it had lasted long enough
};

/// A good frame that is another slave's answer to the request before it.
struct RtuForeignAnswer {
  Bytes frame;  ///< with address and CRC
  SimTime last_byte;
};

/// Cuts a byte stream into RTU request frames. Does no I/O and reads no clock: the caller says which bytes
/// came and when, and wake_at() tells when silence alone will end the frame. One framer serves one line; it
/// is not thread-safe and never holds more than 256 bytes of an unfinished frame (longer ones are a fault).
///
/// Where bytes begin that are no frame, everything up to the next silence is dropped with them, a good frame
/// glued to their end included. The framer never looks for a frame inside rubbish: the data of a damaged
/// write could contain one, and it would be carried out. Good frames glued to each other are told apart by
/// their implied lengths, unless `strict`.
class RtuFramer {
 public:
  using Outcome = std::variant<RtuRequest, RtuFault, RtuForeignAnswer>;
  struct Timing {
    Duration inside_frame_max;    ///< t1.5; looked at only when strict
    Duration between_frames_min;  ///< silence that ends a frame: t3.5 when strict, max(t3.5, 50 ms) on a real
                                  ///< system
    bool strict = false;   ///< only silence ends a frame, as the standard has it; otherwise a frame ends as
                           ///< soon as the length its function code implies is there and the CRC is good
    Duration character{};  ///< what one byte takes on the line: receive() takes it off for every byte to get
                           ///< at the silence before the first. 0 counts the bytes' own time as silence
  };
  /// Unit ids, by number.
  using Ids = std::bitset<256>;
  explicit RtuFramer(Timing timing);

  /// Further slaves are on the same wire: all ids but `own` may be theirs. A frame that comes after a request
  /// for one of them is its answer, if it has the id, the function code and the length of one and a good CRC.
  /// Answers that look as their requests do (05, 06, 08, 16 hex) cannot be told from a request that is made
  /// again; nobody here acts on either. Without this call nobody else is there.
  void share_with_others(const Ids& own) { own_ = own; }

  /// Takes bytes whose last one came at `at`. All of one call came without a gap. Times never go back.
  void receive(ByteView bytes, SimTime at);
  /// The instant at which silence will make poll() have something to say; nothing while the line is idle. An
  /// instant already past when something waits to be fetched.
  [[nodiscard]] std::optional<SimTime> wake_at() const;
  /// The next frame or fault that is final at `now`; nothing as long as more bytes may come. Call until
  /// empty.
  [[nodiscard]] std::optional<Outcome> poll(SimTime now);
  /// True if a frame has begun and not ended.
  [[nodiscard]] bool unfinished() const { return !pending_.empty(); }
  /// Forgets what is unfinished, as when the line is cut. What is final stays to be fetched.
  void reset();

 private:
  void take(std::uint8_t byte, SimTime at);
  void end_by_silence();
  [[nodiscard]] bool may_be_foreign_answer() const;
  [[nodiscard]] bool has_length_of_answer() const;
  void foreign_answer_at(SimTime at);
  void request_at(SimTime at);
  void forget_pending();

  struct Asked {
    std::uint8_t address;
    std::uint8_t function;
  };

  Timing timing_;
  Bytes pending_;               // the unfinished frame
  bool too_long_ = false;       // more came than pending_ may hold
  bool gap_seen_ = false;       // strict: a gap tore the pending frame
  SimTime last_byte_{};         // of pending_
  std::optional<Ids> own_;      // nothing: there are no other slaves
  std::optional<Asked> asked_;  // another slave, which has not answered yet
  std::deque<Outcome> ready_;
};

}  // namespace emberline::modbus

#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>

#include "sim/modbus/bytes.hpp"

namespace emberline::modbus {

/// What every port on a serial line hears, whoever it is for: a frame with a good CRC; bytes that are no
/// frame (bad CRC, parity, too short); characters lost by an overrun, which spoils the frame as well.
enum class Heard : std::uint8_t { good_frame, comm_error, overrun };

/// The serial port of one slave on one line, as function codes 08, 0B and 0C show it: counters, event
/// counter, event log, listen-only mode (MODBUS Application Protocol V1.1b3, 6.8 to 6.10, and the counters of
/// MODBUS over Serial Line V1.02, appendix A). Knows no time and no I/O.
///
/// Every frame on the line goes through heard(), then, if it is for this slave or a broadcast, through
/// begin() and end(), which serve() in slave.hpp calls in this order.
///
/// Where the standards leave it open:
///  - Counters are 16 bits wide and wrap to 0 behind FFFF: the difference of two readings stays right.
///  - A query that reads a counter is counted before it is answered, so it is in bus messages (0B) and server
///    messages (0E), as in the state chart of appendix A. After clearing, the next query finds 1 there.
///  - Bus exceptions (0D) count exception answers, and broadcasts refused in silence (appendix A).
///  - No response (0F) counts broadcasts (appendix A), messages to this slave that the listen-only mode
///    swallowed, 08/04, and requests that the slave drops. Swallowed messages are no server messages.
///  - The event counter counts messages answered normally and broadcasts carried out; not 0B and 0C, which
///    fetch it; 08/01 and 08/0A leave it at 0.
///  - The diagnostic register (08/02) has one bit: bit 0, characters were lost since the flag was cleared.
///  - The log notes frames for this slave, broadcasts and communication errors on the line, not good frames
///    for others. A frame swallowed by listen-only has a receive event only: it was not processed.
///    Exception bits of a send event stand for exceptions that were sent, so never for a broadcast.
///  - 08/01 with FF00 leaves a log of one entry, the restart; with 0000 the restart is added.
class Diagnostics {
 public:
  static constexpr std::size_t kLogMax = 64;

  /// A frame, or a broken one, was on the line.
  void heard(Heard what);

  /// A good frame for this slave, or a broadcast, is to be processed. False in listen-only mode, unless it is
  /// a sound 08/01: the slave does not act on it, and end() is not to be called.
  [[nodiscard]] bool begin(ByteView pdu, bool broadcast);
  /// It was processed with this answer, silence included; of a broadcast, the answer that is not sent.
  void end(ByteView pdu, const std::optional<Bytes>& answer, bool broadcast);

  /// Carries out 08, 0B or 0C between begin() and end(); nothing is silence. Sub-function before data: an
  /// unknown one is 01, wrong data or a wrong length 03.
  [[nodiscard]] std::optional<Bytes> answer(ByteView pdu);

  /// Power-up: all counters, the log and the listen-only mode are gone.
  void power_up() { *this = Diagnostics(); }

  [[nodiscard]] bool listen_only() const { return listen_only_; }

  /// The counters of 08/0B to 08/12, in the order of their sub-functions.
  struct Counters {
    std::uint16_t bus_messages = 0;     ///< 0B: good frames on the line
    std::uint16_t bus_comm_errors = 0;  ///< 0C: broken frames on the line
    std::uint16_t bus_exceptions = 0;   ///< 0D
    std::uint16_t server_messages = 0;  ///< 0E: for this slave or broadcast, processed
    std::uint16_t no_responses = 0;     ///< 0F
    std::uint16_t naks = 0;             ///< 10: exception 07, which none of our slaves gives
    std::uint16_t busy = 0;             ///< 11: exception 06
    std::uint16_t overruns = 0;         ///< 12
  };
  [[nodiscard]] const Counters& counters() const { return counters_; }
  [[nodiscard]] std::uint16_t events() const { return events_; }  ///< the event counter
  /// The event log, newest first, as 0C returns it.
  [[nodiscard]] const std::deque<std::uint8_t>& log() const { return log_; }

 private:
  enum class Restart : std::uint8_t { none, keep_log, clear_log };

  [[nodiscard]] std::optional<Bytes> diagnose(ByteView pdu);
  [[nodiscard]] std::optional<std::uint16_t> counter(std::uint16_t sub_function) const;
  [[nodiscard]] Bytes event_log() const;
  void note(unsigned event);
  void clear_counters();
  void restart();

  Counters counters_;
  std::uint16_t events_ = 0;
  std::deque<std::uint8_t> log_;
  bool listen_only_ = false;
  bool overrun_flag_ = false;
  bool just_cleared_ = false;  ///< by the message under way, which then counts no event
  Restart restart_ = Restart::none;
};

}  // namespace emberline::modbus

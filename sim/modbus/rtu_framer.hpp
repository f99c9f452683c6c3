#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::modbus {

/// A good RTU request frame: the CRC was right and is taken off.
struct RtuRequest {
  std::uint8_t address;  ///< 0 is broadcast
  Bytes pdu;             ///< function code first
  SimTime last_byte;     ///< when its last byte was there
};

/// Bytes that are no frame. They get no answer, change nothing and feed no watchdog.
struct RtuFault {
  enum class Kind { bad_crc, too_short, too_long, gap_inside };
  Kind kind;
  Bytes bytes;
  SimTime at;
};

/// Cuts a byte stream into RTU request frames. Does no I/O and reads no clock: the caller says which bytes
/// came and when, and wake_at() tells when silence alone will end the frame. One framer serves one line; it
/// is not thread-safe and never holds more than 256 bytes of an unfinished frame (longer ones are a fault).
class RtuFramer {
 public:
  using Outcome = std::variant<RtuRequest, RtuFault>;
  struct Timing {
    Duration inside_frame_max;    ///< t1.5; looked at only when strict
    Duration between_frames_min;  ///< silence that ends a frame: t3.5 when strict, max(t3.5, 50 ms) on a real
                                  ///< system
    bool strict = false;  ///< only silence ends a frame, as the standard has it; otherwise a frame ends as
                          ///< soon as the length its function code implies is there and the CRC is good
  };
  explicit RtuFramer(Timing timing);

  /// Takes bytes whose last one came at `at`. All of one call came without a gap. Times never go back.
  void receive(ByteView bytes, SimTime at);
  /// The instant at which silence will make poll() have something to say; nothing while the line is idle.
  [[nodiscard]] std::optional<SimTime> wake_at() const;
  /// The next frame or fault that is final at `now`; nothing as long as more bytes may come. Call until
  /// empty.
  [[nodiscard]] std::optional<Outcome> poll(SimTime now);
  /// Forgets what is unfinished, as when the line is cut.
  void reset();
};

}  // namespace emberline::modbus

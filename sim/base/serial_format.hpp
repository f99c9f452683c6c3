#pragma once

#include <string>
#include <string_view>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"

namespace emberline {

/// Speed and format of an asynchronous serial line, written "19200 8E1".
struct SerialFormat {
  int baud = 19200;
  int data_bits = 8;
  char parity = 'E';  ///< E, O or N
  int stop_bits = 1;  ///< 1 or 2

  bool operator==(const SerialFormat&) const = default;
};

/// Reads "19200 8E1". Modbus RTU needs 8 data bits; the speeds are the usual ones from 1200 to 115200 bit/s.
/// The error says what is wrong and what was expected.
[[nodiscard]] Result<SerialFormat, std::string> parse_serial_format(std::string_view text);
/// The same form back: "19200 8E1".
[[nodiscard]] std::string to_text(const SerialFormat& format);

/// The time one character takes. An RTU character is 11 bits, whatever the format says
/// (MODBUS over Serial Line V1.02, 2.5.1).
[[nodiscard]] Duration character_time(const SerialFormat& format);
/// The time of `count` characters, rounded once, so that long frames do not add up rounding errors.
[[nodiscard]] Duration characters_time(const SerialFormat& format, std::size_t count);
/// For how long RTU frames keep a line: `count` characters in all, and 3.5 characters of silence for each
/// frame.
[[nodiscard]] Duration frames_time(const SerialFormat& format, std::size_t count, std::size_t frames);
/// The greatest silence inside a frame: 1.5 characters, 750 us above 19200 bit/s (Serial Line
/// V1.02, 2.5.1.1).
[[nodiscard]] Duration t1_5(const SerialFormat& format);
/// The least silence between frames: 3.5 characters, 1.75 ms above 19200 bit/s (Serial Line V1.02, 2.5.1.1).
[[nodiscard]] Duration t3_5(const SerialFormat& format);

}  // namespace emberline

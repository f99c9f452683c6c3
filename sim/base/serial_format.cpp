#include "sim/base/serial_format.hpp"

#include <array>
#include <charconv>
#include <cstddef>

namespace emberline {
namespace {

constexpr std::array kSpeeds{1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200};
constexpr std::int64_t kBitsPerCharacter = 11;
/// Above this speed the standard fixes the silences, for the sake of the interrupt load.
constexpr int kFastestStrict = 19200;

std::string expectation() { return "expected a speed and a format such as '19200 8E1'"; }

}  // namespace

Result<SerialFormat, std::string> parse_serial_format(std::string_view text) {
  SerialFormat format;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), format.baud);
  const auto rest = text.substr(static_cast<std::size_t>(end - text.data()));
  if (error != std::errc{} || rest.size() != 4 || rest[0] != ' ') {
    return Failure{expectation() + ", found '" + std::string(text) + "'"};
  }
  bool known_speed = false;
  for (const int speed : kSpeeds) known_speed = known_speed || speed == format.baud;
  if (!known_speed) {
    return Failure{"speed " + std::to_string(format.baud) +
                   " is not supported: expected 1200, 2400, 4800, 9600, 19200, 38400, 57600 or 115200 bit/s"};
  }
  if (rest[1] != '8') return Failure{std::string("Modbus RTU needs 8 data bits: ") + expectation()};
  if (rest[2] != 'E' && rest[2] != 'O' && rest[2] != 'N') {
    return Failure{std::string("parity is E, O or N, found '") + rest[2] + "': " + expectation()};
  }
  if (rest[3] != '1' && rest[3] != '2') {
    return Failure{std::string("stop bits are 1 or 2, found '") + rest[3] + "': " + expectation()};
  }
  format.parity = rest[2];
  format.stop_bits = rest[3] - '0';
  return format;
}

std::string to_text(const SerialFormat& format) {
  return std::to_string(format.baud) + " " + std::to_string(format.data_bits) + format.parity +
         std::to_string(format.stop_bits);
}

Duration characters_time(const SerialFormat& format, std::size_t count) {
  const std::int64_t bits = kBitsPerCharacter * static_cast<std::int64_t>(count);
  const std::int64_t baud = format.baud;
  // Whole seconds apart: of very many characters the product would not fit.
  return std::chrono::seconds{bits / baud} + Duration{(bits % baud * 1'000'000'000 + baud / 2) / baud};
}

Duration frames_time(const SerialFormat& format, std::size_t count, std::size_t frames) {
  return characters_time(format, count) + static_cast<std::int64_t>(frames) * t3_5(format);
}

Duration character_time(const SerialFormat& format) { return characters_time(format, 1); }

Duration t1_5(const SerialFormat& format) {
  if (format.baud > kFastestStrict) return std::chrono::microseconds{750};
  return characters_time(format, 3) / 2;
}

Duration t3_5(const SerialFormat& format) {
  if (format.baud > kFastestStrict) return std::chrono::microseconds{1750};
  return characters_time(format, 7) / 2;
}

}  // namespace emberline

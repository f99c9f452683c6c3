#pragma once

#include <memory>
#include <optional>
#include <string>

#include "sim/base/result.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/io/line/descriptor.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// The tty of a serial adapter: raw, at the line's speed and format, and for nobody else meanwhile. Never
/// blocks. Not thread-safe.
class SerialDevice {
 public:
  struct Options {
    SerialFormat format;
    bool rs485 = false;  ///< the driver drives RTS, high while it sends, to turn the direction of the bus
  };
  struct Problem {
    bool missing = false;  ///< nothing is at that path
    std::string sentence;  ///< one line: what the system refused, and what was expected
  };
  [[nodiscard]] static Result<std::unique_ptr<SerialDevice>, Problem> open(const std::string& path,
                                                                           const Options& options);
  ~SerialDevice();
  SerialDevice(const SerialDevice&) = delete;
  SerialDevice& operator=(const SerialDevice&) = delete;

  /// Readable when bytes came or the adapter is gone; owned by the device.
  [[nodiscard]] int descriptor() const { return tty_.number(); }
  /// All bytes that wait, at most `most` of them; nothing when the adapter is gone. A character with wrong
  /// parity or a wrong stop bit is a 0 among them.
  [[nodiscard]] std::optional<modbus::Bytes> read(std::size_t most);
  /// Hands the bytes over in one write; what the driver does not take is lost. False when the adapter is
  /// gone.
  [[nodiscard]] bool write(modbus::ByteView bytes);
  /// Whether bytes take the line's time once they are handed over. A pseudo-terminal carries them at once.
  [[nodiscard]] bool takes_time() const { return takes_time_; }
  /// Which of the settings the driver did not keep, in words; empty: it kept all.
  [[nodiscard]] const std::string& not_kept() const { return not_kept_; }

 private:
  explicit SerialDevice(Descriptor tty) : tty_(std::move(tty)) {}
  [[nodiscard]] Result<Done, Problem> set_up(const std::string& path, const Options& options);

  Descriptor tty_;
  bool takes_time_ = true;
  std::string not_kept_;
};

}  // namespace emberline::io

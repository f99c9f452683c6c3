#pragma once

#include <memory>
#include <span>
#include <string>

#include <termios.h>

#include "sim/base/result.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/io/line/descriptor.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// A pseudo-terminal as the far end of a serial line. The masters' end ("slave" in the words of the kernel)
/// is kept open here too, so that masters may come and go. Never blocks. Not thread-safe.
class PtyDevice {
 public:
  /// The error says what the system refused.
  [[nodiscard]] static Result<std::unique_ptr<PtyDevice>, std::string> open(const SerialFormat& format);

  /// Where masters open it: "/dev/pts/5".
  [[nodiscard]] const std::string& path() const { return path_; }
  /// Marks it as the one that masters find by this link, for as long as it is open.
  void is_found_by(const std::string& link);
  /// Readable when bytes came; owned by the device.
  [[nodiscard]] int descriptor() const { return ours_.number(); }
  /// Readable when a master has gone; -1 when the system gave no watch. Owned by the device.
  [[nodiscard]] int watch_descriptor() const { return watch_.number(); }

  /// All bytes that wait, at most `most` of them.
  [[nodiscard]] modbus::Bytes read(std::size_t most);
  /// Hands the bytes over in one write; what no master takes off the line is lost, as on a wire.
  void write(modbus::ByteView bytes);

  /// Keeps the masters' end open, so that reading never fails for want of a master; false if the system is
  /// out of descriptors.
  bool hold();
  /// True if a master that could write has closed the terminal since the last call.
  [[nodiscard]] bool master_has_gone();
  /// True if anybody has the terminal open now.
  [[nodiscard]] bool anybody_there();
  /// Throws away what was written and not read by any master.
  void discard_unread();
  /// Raw mode, the line's speed and stop bits, and no exclusive use: as before the first master came.
  void restore_settings();
  /// Ends an exclusive use that a master has left behind.
  void end_exclusive_use();
  /// True if no master has changed the settings, or has put them back.
  [[nodiscard]] bool settings_as_before() const;

  /// What the master's settings are, as far as the kernel shows them. It never shows parity.
  struct Settings {
    int baud = 0;  ///< 0: not one of the usual speeds
    int stop_bits = 1;
    bool echo = false;  ///< our own answers would come back to us
    bool operator==(const Settings&) const = default;
  };
  [[nodiscard]] Settings settings() const;
  void switch_echo_off();

 private:
  PtyDevice(Descriptor ours, std::string path, const SerialFormat& format);

  Descriptor ours_;   // the kernel's "master" end
  Descriptor held_;   // the masters' end, opened for reading only: see master_has_gone()
  Descriptor watch_;  // inotify
  std::string path_;
  SerialFormat format_;
  struct termios before_ {};  // as restore_settings() leaves them
};

/// True if a running bench (of this or another process) has the pseudo-terminal at `path`.
[[nodiscard]] bool terminal_of_a_running_bench(const std::string& path);
/// True if it has it under this link.
[[nodiscard]] bool terminal_of_a_running_bench(const std::string& path, const std::string& link);

}  // namespace emberline::io

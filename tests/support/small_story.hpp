#pragma once

#include <string>

#include "tests/support/process.hpp"

namespace emberline::testing {

/// A bench with one heater and a story on it, short and without an outside, in a folder of the test's own.
class SmallStory {
 public:
  explicit SmallStory(const TemporaryFolder& folder) : folder_(folder), link(folder.file("lines/field")) {
    folder.write("bench.yaml",
                 "bench: One heater\n"
                 "supply: { system: single-phase, voltage: 230 V, frequency: 50 Hz }\n"
                 "lines:\n"
                 "  field: { pty: " +
                     link +
                     ", serial: 19200 8E1 }\n"
                     "  ethernet: { tcp: 127.0.0.1:0 }\n"
                     "zones: { oven: { mass: 20 kg, specific_heat: 900 J/kgK, loss: 5 W/K, ambient: 25 degC, "
                     "start: 25 degC } }\n"
                     "units:\n"
                     "  heater:\n"
                     "    id: 1\n"
                     "    lines: [field, ethernet]\n"
                     "    registers: " +
                     std::string(EMBERLINE_SOURCE_DIR) +
                     "/config/registers/short-blocks.yaml\n"
                     "    rating: { voltage: 230 V, current: 16 A }\n"
                     "    firing: { mode: burst-spread, ramp: 1 s }\n"
                     "    control: { variable: voltage, full_scale: 220 V }\n"
                     "    comms_loss: { lines: [field, ethernet], timeout: 3 s, policy: latch-to-inhibit, "
                     "reset_by: [enable-cycle] }\n"
                     "    load: { elements: 1, material: nickel-chromium, "
                     "cold_resistance: 20 ohm, "
                     "heats: oven }\n");
  }
  /// A file with this title in front of `rest`, on that bench; gives its path.
  [[nodiscard]] std::string write(const std::string& name, const std::string& title,
                                  const std::string& rest) const {
    return folder_.write(name, "scenario: " + title + "\nbench: bench.yaml\n" + rest);
  }
  /// Three seconds with a master that asks for half, which is what is expected of it (or, `good` being false,
  /// is not).
  [[nodiscard]] std::string stepped(const std::string& name, const std::string& title,
                                    bool good = true) const {
    return write(name, title, "ends: 3 s\n" + master() + expects_half(good));
  }
  [[nodiscard]] static std::string master() {
    return "masters: { plc: { lines: [field], timeout: 2 s, program: [ { at: 100 ms, write: { "
           "heater.setpoint: 50 % } }, "
           "{ every: 500 ms, read: [heater.state] } ] } }\n";
  }
  [[nodiscard]] static std::string expects_half(bool good = true) {
    return std::string("expect: [ { name: asks for half, first_write: { heater.setpoint: { near: ") +
           (good ? "50 %" : "60 %") + ", tolerance: 0.1 % } } } ]\n";
  }

 private:
  const TemporaryFolder& folder_;

 public:
  std::string link;  ///< where the line `field` is with --real-master
};

}  // namespace emberline::testing

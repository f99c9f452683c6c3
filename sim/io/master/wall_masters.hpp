#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "sim/base/serial_format.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::io {

/// How a stand-in reaches a line that is really open.
struct LineAddress {
  std::string name;
  bool rtu = true;
  std::string path;  ///< RTU: the terminal
  SerialFormat serial;
  std::string host;  ///< TCP
  std::uint16_t port = 0;
};

/// All stand-ins of a rehearsal on the wall clock: one thread each, libmodbus over the bench's real lines.
class WallMasters {
 public:
  /// `now` gives simulated time and is callable from any thread; `note` takes (stand-in's name, sentence),
  /// also from any thread.
  WallMasters(const std::vector<rehearsal::MasterSpec>& masters, const std::vector<LineAddress>& lines,
              std::function<SimTime()> now, std::function<void(std::string, std::string)> note);
  ~WallMasters();
  void start();
  /// Ends the programs (a request that is under way ends at its time-out at the latest) and joins the
  /// threads.
  void finish();
  [[nodiscard]] std::uint64_t transactions() const;

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::io

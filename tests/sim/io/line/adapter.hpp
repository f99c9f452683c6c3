#pragma once

#include <cstdlib>
#include <filesystem>

#include <doctest/doctest.h>
#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

#include "tests/sim/io/line/raw_master.hpp"

namespace emberline::test {

/// A pseudo-terminal that stands in for a serial adapter: the bench opens one end by a path that, as a name
/// under /dev/serial/by-id, leads to whatever is plugged in; the test is the PLC at the other end.
class Adapter {
 public:
  explicit Adapter(std::string path) : path_(std::move(path)) { plug_in(); }
  ~Adapter() { unplug(); }
  Adapter(const Adapter&) = delete;
  Adapter& operator=(const Adapter&) = delete;

  void plug_in() {
    far_end_ = ::posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    REQUIRE(far_end_ >= 0);
    REQUIRE(::grantpt(far_end_) == 0);
    REQUIRE(::unlockpt(far_end_) == 0);
    std::filesystem::create_symlink(::ptsname(far_end_), path_);
  }
  /// As when its plug is pulled: whoever has it open is hung up, and its name is gone.
  void unplug() {
    if (far_end_ < 0) {
      return;
    }
    std::filesystem::remove(path_);
    ::close(far_end_);
    far_end_ = -1;
  }
  /// What the PLC sends and receives. Its descriptor is the adapter's: do not close it.
  [[nodiscard]] RawMaster plc() const {
    const int same = ::dup(far_end_);
    REQUIRE(same >= 0);
    return RawMaster(same);
  }
  [[nodiscard]] const std::string& path() const { return path_; }
  /// Where a master opens the end that the bench has not.
  [[nodiscard]] int far_end() const { return far_end_; }

 private:
  std::string path_;
  int far_end_ = -1;
};

}  // namespace emberline::test

#pragma once

#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// Takes out of what is heard on a two-wire bus what was said there by ourselves, for adapters that hear
/// themselves.
class OwnEcho {
 public:
  /// `said` will be heard until then, if at all.
  void expect(modbus::ByteView said, SimTime until) {
    said_.insert(said_.end(), said.begin(), said.end());
    until_ = until;
  }
  /// What is left of the bytes heard at `at`. The first byte that was not said by us ends the echo.
  [[nodiscard]] modbus::Bytes left_of(modbus::ByteView heard, SimTime at) {
    if (at > until_) {
      said_.clear();
    }
    std::size_t same = 0;
    while (same < heard.size() && same < said_.size() && heard[same] == said_[same]) {
      ++same;
    }
    const bool other = same < heard.size() && same < said_.size();
    said_.erase(said_.begin(), other ? said_.end() : said_.begin() + static_cast<std::ptrdiff_t>(same));
    return {heard.begin() + static_cast<std::ptrdiff_t>(same), heard.end()};
  }

 private:
  modbus::Bytes said_;
  SimTime until_{};
};

}  // namespace emberline::io

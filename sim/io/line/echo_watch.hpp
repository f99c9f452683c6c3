#pragma once

#include <algorithm>
#include <deque>
#include <optional>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// Finds out whether an adapter hears itself that is said not to, and keeps whole answers of ours that come
/// back from being taken for requests: those to 05, 06, 08 and 16 (hex) are as their requests (MODBUS
/// Application Protocol V1.1b3, 6.5, 6.6, 6.8 and 6.16), would be answered again without end, and would feed
/// a watchdog all the while.
///
/// A master that repeats such a request looks the same. On a bus the echo is what comes first after an
/// answer: once a good request has come first, only answers that no master would send are taken for echo.
class EchoWatch {
 public:
  struct Heard {
    modbus::Bytes left;      ///< what is not our echo
    bool came_back = false;  ///< a whole answer did
  };
  /// `said` is a whole frame; if it comes back, then until that instant.
  void expect(modbus::ByteView said, SimTime until) {
    other_first_ = false;
    const bool telling = !master_first_ || echoes_ || !is_as_its_request(said);
    if (telling && !said.empty()) {
      said_.emplace_back(said.begin(), said.end());
      until_ = until;
    }
  }
  /// Bytes that may still become a whole answer are kept back for the time being.
  [[nodiscard]] Heard heard(modbus::ByteView bytes, SimTime at) {
    Heard heard{given_up(at), false};
    for (const std::uint8_t byte : bytes) {
      if (said_.empty()) {
        heard.left.push_back(byte);
        continue;
      }
      kept_.push_back(byte);
      const modbus::Bytes& said = said_.front();
      if (byte != said[kept_.size() - 1]) {
        let_out(heard.left);
        other_first_ = true;
      } else if (kept_.size() == said.size()) {
        heard.came_back = true;
        echoes_ = echoes_ || !is_as_its_request(said);
        kept_.clear();
        said_.pop_front();
      }
    }
    return heard;
  }
  /// What was kept back until `at` and has not become an answer.
  [[nodiscard]] modbus::Bytes given_up(SimTime at) {
    modbus::Bytes left;
    if (at > until_) {
      let_out(left);
    }
    return left;
  }
  /// When given_up() will have something if nothing more is heard.
  [[nodiscard]] std::optional<SimTime> gives_up_at() const {
    return kept_.empty() ? std::nullopt : std::optional(until_ + Duration{1});
  }
  /// A good request was among what was left.
  void good_request() { master_first_ = master_first_ || other_first_; }

 private:
  static bool is_as_its_request(modbus::ByteView frame) {
    const std::uint8_t function = frame.size() > 1 ? frame[1] : std::uint8_t{0};
    return function == 0x05 || function == 0x06 || function == 0x08 || function == 0x16;
  }
  void let_out(modbus::Bytes& left) {
    left.insert(left.end(), kept_.begin(), kept_.end());
    kept_.clear();
    said_.clear();
  }

  std::deque<modbus::Bytes> said_;
  SimTime until_{};
  modbus::Bytes kept_;         // the beginning of said_.front(), heard
  bool echoes_ = false;        // an answer came back that no master would send
  bool other_first_ = false;   // something else came first after the last answer
  bool master_first_ = false;  // and a good request was in it
};

}  // namespace emberline::io

#pragma once

#include <cstddef>
#include <optional>
#include <utility>

#include "sim/bench/bench_spec.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "sim/modbus/rtu_framer.hpp"

namespace emberline::io {

/// Listens on one connection while simulated time stands still, for the first valid request to a unit or
/// io-block of the line (a broadcast on a line that has any counts as one). Nothing before it reaches the
/// bench: requests for ids nobody has, and bytes that are no frame, are let go by.
class FirstRequest {
 public:
  /// `spec` must outlive this.
  FirstRequest(const bench::BenchSpec& spec, std::size_t line);
  /// Bytes whose last one came so long after listening began (`at` never goes back). Gives what the session
  /// is to receive: the frame of that request and whatever came behind it; nothing while there is none.
  [[nodiscard]] std::optional<modbus::Bytes> in(modbus::ByteView bytes, SimTime at);
  /// TCP: the stream is no Modbus TCP, or cannot be followed any more; close the connection.
  [[nodiscard]] bool lost() const { return lost_; }
  /// TCP: what has come of a request that is not whole yet, to be handed to the session before all else when
  /// the first request came over another connection. (On RTU lines a request that is torn is made again.)
  [[nodiscard]] modbus::Bytes unfinished() { return std::exchange(unfinished_, {}); }

 private:
  [[nodiscard]] bool answers(int id) const;
  [[nodiscard]] std::optional<modbus::Bytes> rtu_frame(std::uint8_t byte, SimTime at);
  [[nodiscard]] std::optional<modbus::Bytes> tcp_frame(std::uint8_t byte);

  const bench::BenchSpec& spec_;
  std::size_t line_;
  bool rtu_line_;
  modbus::RtuFramer rtu_;
  modbus::MbapFramer mbap_;
  modbus::Bytes unfinished_;
  bool lost_ = false;
};

}  // namespace emberline::io

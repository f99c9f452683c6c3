#pragma once

#include "sim/bench/bench.hpp"
#include "sim/io/line/capture.hpp"

namespace emberline::io {

/// A session's end as captures have it.
[[nodiscard]] Ending ending_of(bench::SessionEnd end);

/// Puts all that stands on the lines of a bench into a capture, impaired frames as they stood there: towards
/// the units as they arrived, towards masters as they left.
class LineCapture final : public bench::LineObserver {
 public:
  /// Both must outlive this. Watches from now on until it is destroyed.
  LineCapture(bench::Bench& bench, Capture& capture);
  ~LineCapture() override;
  LineCapture(const LineCapture&) = delete;
  LineCapture& operator=(const LineCapture&) = delete;

  void session_began(const bench::SessionSeen& session) override;
  void session_ended(const bench::SessionSeen& session) override;
  void bytes(const bench::BytesSeen& bytes) override;

 private:
  bench::Bench& bench_;
  Capture& capture_;
};

}  // namespace emberline::io

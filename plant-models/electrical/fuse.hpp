#pragma once

namespace emberline::plant {

/// A fuse in a line: what it lets through for ever, and what melts it when there is no time for cooling.
struct FuseParameters {
  double rating_A = 63.0;    ///< RMS, above 0
  double melting_A2s = 5e3;  ///< I squared t of short pulses, above 0
};

/// The heat in a fuse element, as a share of what melts it: first order, so that short pulses melt it by
/// their I squared t and a steady current just above the rating melts it after a long time:
///     dh/dt = (I^2 - h I_r^2) / melting,   melts at h = 1;   t = (melting/I_r^2) ln(I^2 / (I^2 - I_r^2))
class Fuse {
 public:
  explicit Fuse(const FuseParameters& parameters) : parameters_(parameters) {}
  /// A stretch of constant RMS current. True when it has melted in it.
  bool pass(double length_s, double current_A);
  [[nodiscard]] double heat() const { return heat_; }
  [[nodiscard]] bool melted() const { return melted_; }
  /// Opened by force, or a new one put in.
  void melt() { melted_ = true; }
  void replace();

 private:
  FuseParameters parameters_;
  double heat_ = 0.0;
  bool melted_ = false;
};

}  // namespace emberline::plant

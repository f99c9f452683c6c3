#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

#include "sim/unit/reset_inputs.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// A wired or written level that may reset latches.
struct ResetLevel {
  ResetBy by;
  bool on;  ///< enable or reset terminal closed, register 1
};

/// What protections have latched: each until its cause has gone and a reset that it allows came after that. A
/// cause that comes back meanwhile puts it back before the reset.
class Trips {
 public:
  explicit Trips(const std::array<ProtectionSpec, kProtectionCount>& specs) : specs_(specs) {}

  /// Latches. `cause_stays`: false if the cause is gone with the output, which is off from now on.
  void latch(Protection protection, bool cause_stays);
  /// The cause of a latch has gone, or is back; nothing happens if it is not latched.
  void cause_gone(Protection protection);
  void cause_back(Protection protection);
  /// Loss of control supply: nothing is latched any more, the register is 0.
  void power_cycled();

  /// What a level did to one latch.
  enum class Outcome : std::uint8_t {
    nothing,       ///< not latched, or no edge
    not_allowed,   ///< not among its reset_by
    cause_there,   ///< refused
    begun_before,  ///< refused: the edge began before the cause had gone
    cleared,
  };
  using Outcomes = std::array<Outcome, kProtectionCount>;
  Outcomes level(const ResetLevel& level);

  [[nodiscard]] bool any() const { return bits() != 0; }
  [[nodiscard]] bool latched(Protection protection) const;
  /// True if it is latched and its cause is there.
  [[nodiscard]] bool cause(Protection protection) const;
  /// Bits of the point `trips`.
  [[nodiscard]] std::uint32_t bits() const { return bits_; }
  /// A bit for each protection that is latched, by the number of the protection.
  [[nodiscard]] std::uint32_t latched() const { return latched_; }

 private:
  struct One {
    bool latched = false;
    bool cause = false;
    ResetInputs inputs;
  };
  Outcome outcome(std::size_t p, ResetBy by, ResetInputs::Seen seen);
  void count_bits();

  const std::array<ProtectionSpec, kProtectionCount>& specs_;
  std::array<One, kProtectionCount> all_;
  std::uint32_t bits_ = 0;
  std::uint32_t latched_ = 0;
};

}  // namespace emberline::unit

#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/unit/supervision.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// Watches readings cross their thresholds: what lasts for the delay is raised, what is back by the
/// hysteresis is gone. The delay counts from the instant the condition was first seen to the instant it is
/// seen to have lasted; that is why the bench looks at every mains cycle while watching(). Knows nothing of
/// latches: what stands is a condition, and what follows from it is decided elsewhere.
class Protections {
 public:
  explicit Protections(const std::array<ProtectionSpec, kProtectionCount>& specs) : specs_(specs) {}

  struct Event {
    Protection protection;
    bool raised;      ///< false: gone
    Reading reading;  ///< that did it
  };
  /// Judges the cycle that ended at `at`. Protections that are off stay silent. Those that have latched
  /// (`latched`, a bit each) need no delay: a cause that is back is no reason to be reset; and they stand
  /// until they are seen to be gone.
  std::vector<Event> see(SimTime at, const Readings& readings, const Settings& settings,
                         std::uint32_t latched);
  /// Nothing stands and nothing is about to.
  void forget();
  /// This one does not stand any more, and has to be seen anew.
  void forget(Protection protection);

  [[nodiscard]] bool stands(Protection protection) const;
  /// True while a delay runs.
  [[nodiscard]] bool watching() const;

 private:
  struct One {
    std::optional<SimTime> since;  ///< the condition was first seen, and has been there at every look
    bool stands = false;
  };
  const std::array<ProtectionSpec, kProtectionCount>& specs_;
  std::array<One, kProtectionCount> all_;
};

}  // namespace emberline::unit

#pragma once

#include <vector>

#include "sim/polling/schedule.hpp"

namespace emberline::polling {

/// How phases are sought.
enum class Spreading {
  even,  ///< far from each other, so that a late request disturbs none
  close  ///< one behind the other, which leaves room for long ones
};

/// Gives each turn its phase, a multiple of 1 ms (0.1 ms where periods are below 10 ms) below its period.
///
/// Two requests of periods S and T come at every distance of the kind d + n gcd(S, T) from each other, so
/// they never meet if d modulo the gcd leaves room for each. Placed one after the other, the quickest period
/// first (and first those of slaves whose reads a second are limited, whose jitter counts), each where it
/// overlaps least with those placed before; then each anew, with all others in place, as long as that helps.
/// `limited` says of each slave whether its reads a second are.
void place_phases(std::vector<Turn>& turns, const std::vector<bool>& limited, Spreading spreading);

}  // namespace emberline::polling

#pragma once

#include "plant-models/electrical/load.hpp"

namespace emberline::plant {

/// Share of full-conduction power that reaches a balanced resistive load at a firing angle, and its inverse
/// (180: off). Each phase by itself (single-phase, star with neutral, open delta):
///     (V/Vs)^2 = P/P_full = 1 - a/pi + sin(2a)/(2 pi),    a from 0 to 180 degrees
/// Star without neutral and delta behind six thyristors in the lines, a from the zero of the phase voltage,
/// from 0 to 150 degrees:
///      0 to  60:  1 - 3a/(2 pi) + 3 sin 2a/(4 pi)
///     60 to  90:  1/2 + 9 sin 2a/(8 pi) + 3 sqrt 3 cos 2a/(8 pi)
///     90 to 150:  5/4 - 3a/(2 pi) + 3 sin 2a/(8 pi) + 3 sqrt 3 cos 2a/(8 pi)
/// Source of both: M. H. Rashid, Power Electronics, ch. 11.
[[nodiscard]] double power_share_of_angle(double alpha_deg, Connection connection);
[[nodiscard]] double angle_of_power_share(double share, Connection connection);

/// The law of a phase by itself; the angle for a share of 0 to 1 (clamped) is accurate to 1e-9 degrees.
[[nodiscard]] double power_share_of_angle(double alpha_deg);
[[nodiscard]] double angle_of_power_share(double share);

}  // namespace emberline::plant

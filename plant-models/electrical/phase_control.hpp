#pragma once

namespace emberline::plant {

/// Single-phase (or four-wire star, per leg) phase-angle control of a resistive load with two antiparallel
/// thyristors. `alpha` counts from the upward zero of the voltage across the leg, 0 to 180 degrees:
///     (V/Vs)^2 = P/P_full = 1 - alpha/pi + sin(2 alpha)/(2 pi)
/// Source: M. H. Rashid, Power Electronics, ch. 11; also any lecture on AC voltage controllers.
[[nodiscard]] double power_share_of_angle(double alpha_deg);
/// The firing angle that gives a share of full-conduction power, 0 to 1 (clamped); accurate to 1e-9 degrees.
[[nodiscard]] double angle_of_power_share(double share);

}  // namespace emberline::plant

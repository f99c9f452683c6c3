#include "sim/unit/protection_info.hpp"

#include <array>
#include <cassert>

namespace emberline::unit {

using registers::Point;
using registers::Trip;
using registers::Warning;

namespace {

constexpr ProtectionInfo warns(Protection protection, std::string_view word, Side acts, Point threshold,
                               Point delay, Warning warning, std::optional<double> sound) {
  return {protection, word, acts, threshold, delay, warning, std::nullopt, sound};
}
constexpr ProtectionInfo trips(Protection protection, std::string_view word, Side acts,
                               std::optional<Point> threshold, Point delay, Trip trip,
                               std::optional<double> sound) {
  return {protection, word, acts, threshold, delay, std::nullopt, trip, sound};
}

using P = Protection;
constexpr std::array<ProtectionInfo, kProtectionCount> kProtections = {{
    warns(P::supply_low, "supply-low", Side::below, Point::supply_low_threshold, Point::supply_low_delay,
          Warning::supply_low, 1.0),
    warns(P::supply_high, "supply-high", Side::above, Point::supply_high_threshold, Point::supply_high_delay,
          Warning::supply_high, 1.0),
    warns(P::supply_frequency, "supply-frequency", Side::above, Point::supply_frequency_threshold,
          Point::supply_frequency_delay, Warning::supply_frequency, 0.0),
    warns(P::load_open, "load-open", Side::below, Point::load_open_threshold, Point::load_open_delay,
          Warning::load_open, std::nullopt),
    warns(P::partial_load_failure, "partial-load-failure", Side::below, Point::partial_load_failure_threshold,
          Point::partial_load_failure_delay, Warning::partial_load_failure, 1.0),
    warns(P::heatsink_warm, "heatsink-warm", Side::above, Point::heatsink_warm_threshold,
          Point::heatsink_warm_delay, Warning::heatsink_warm, std::nullopt),
    trips(P::over_current, "over-current", Side::above, Point::over_current_threshold,
          Point::over_current_delay, Trip::over_current, 0.0),
    trips(P::overload, "overload", Side::above, Point::overload_threshold, Point::overload_delay,
          Trip::over_current, 0.0),
    trips(P::phase_lost, "phase-lost", Side::below, Point::phase_lost_threshold, Point::phase_lost_delay,
          Trip::phase_lost, 1.0),
    trips(P::fuse_open, "fuse-open", Side::above, std::nullopt, Point::fuse_open_delay, Trip::fuse_open, 0.0),
    trips(P::heatsink_over_temperature, "heatsink-over-temperature", Side::above,
          Point::heatsink_over_temperature_threshold, Point::heatsink_over_temperature_delay,
          Trip::heatsink_over_temperature, std::nullopt),
    trips(P::thyristor_shorted, "thyristor-shorted", Side::above, Point::thyristor_shorted_threshold,
          Point::thyristor_shorted_delay, Trip::thyristor_shorted, 0.0),
}};

/// True if every entry stands at the index of its protection.
constexpr bool in_order() {
  for (std::size_t i = 0; i < kProtections.size(); ++i)
    if (static_cast<std::size_t>(kProtections[i].protection) != i) return false;
  return true;
}
static_assert(in_order());

}  // namespace

const ProtectionInfo& protection_info(Protection protection) {
  const auto index = static_cast<std::size_t>(protection);
  assert(index < kProtectionCount);
  return kProtections[index];
}

std::span<const ProtectionInfo> all_protections() { return kProtections; }

std::array<ProtectionSpec, kProtectionCount> default_protections() {
  using namespace std::chrono_literals;
  std::array<ProtectionSpec, kProtectionCount> all;
  const auto set = [&all](Protection protection, double threshold, Duration after, double hysteresis) {
    all[static_cast<std::size_t>(protection)] = {
        .on = true, .threshold = threshold, .after = after, .hysteresis = hysteresis};
  };
  // The voltage band is that of EN 50160: nominal +-10 %. The other figures are common practice, no source.
  set(P::supply_low, 0.90, 1s, 0.01);
  set(P::supply_high, 1.10, 1s, 0.01);
  set(P::supply_frequency, 1.0, 1s, 0.1);
  set(P::load_open, 0.01, 1s, 0.005);
  set(P::partial_load_failure, 0.85, 2s, 0.03);
  set(P::heatsink_warm, 80.0, 2s, 5.0);
  set(P::over_current, 2.0, 0s, 0.0);
  set(P::overload, 0.95, 0s, 0.20);
  // Between the 58 % that are left at most of a lost line, see read_supply(), and the 90 % of EN 50160.
  set(P::phase_lost, 0.65, 200ms, 0.05);
  set(P::fuse_open, 0.5, 0s, 0.0);
  set(P::heatsink_over_temperature, 95.0, 500ms, 10.0);
  set(P::thyristor_shorted, 0.05, 100ms, 0.01);
  return all;
}

}  // namespace emberline::unit

#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "sim/registers/point.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// On which side of its threshold a protection acts.
enum class Side : std::uint8_t { below, above };

/// What is fixed about a protection, whatever unit it is in.
struct ProtectionInfo {
  Protection protection;
  std::string_view word;                      ///< "supply-low"
  Side acts;                                  ///< below or above
  std::optional<registers::Point> threshold;  ///< nothing: there is none to set
  registers::Point delay;
  std::optional<registers::Warning> warning;  ///< this, or
  std::optional<registers::Trip> trip;        ///< that
  std::optional<double> sound;                ///< what it reads where nothing is wrong, if that is known
};

/// The catalogue entry of a protection.
[[nodiscard]] const ProtectionInfo& protection_info(Protection protection);
/// All protections in the order of the enumeration.
[[nodiscard]] std::span<const ProtectionInfo> all_protections();

}  // namespace emberline::unit

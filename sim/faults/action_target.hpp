#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// What a name means to an action of this kind; nothing when the bench has no such thing.
[[nodiscard]] std::optional<Target> find_target(const bench::BenchSpec& spec, TargetKind kind,
                                                std::string_view name);
/// Why find_target() found nothing: "needs a line of the bench, found 'feild'; did you mean 'field'?".
[[nodiscard]] std::string no_such_target(const bench::BenchSpec& spec, TargetKind kind,
                                         std::string_view name);
/// The kind a target has when it was asked for as `kind`: what is mendable is told apart.
[[nodiscard]] TargetKind resolved_kind(TargetKind kind, const Target& target);

}  // namespace emberline::faults

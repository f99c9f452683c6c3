#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::rehearsal {

/// In which order expectations are looked at, by their numbers: those first that entries of the timeline wait
/// for, and each behind those that it waits to be met, be it that an entry it hangs on does; otherwise in
/// their own order.
[[nodiscard]] std::vector<std::size_t> met_order(const ScenarioSpec& scenario);

/// An entry of the timeline or an expectation of a scenario.
struct Waiting {
  bool is_entry = false;
  std::size_t index = 0;
  bool operator==(const Waiting&) const = default;
};
/// Entries and expectations each of which waits for the next, and the last for the first: none of them can
/// ever come. Nothing if there is no such circle. An anchor on an action counts when only one entry does it.
[[nodiscard]] std::optional<std::vector<Waiting>> find_circle(const ScenarioSpec& scenario);

}  // namespace emberline::rehearsal

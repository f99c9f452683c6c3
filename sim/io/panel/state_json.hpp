#pragma once

#include <string>
#include <vector>

#include "sim/faults/action_in_force.hpp"
#include "sim/io/panel/recovery.hpp"
#include "sim/io/panel/snapshot.hpp"
#include "sim/io/panel/traffic_feed.hpp"

namespace emberline::io {

/// All that the state of a bench is told from.
struct StateParts {
  const BenchFacts& facts;
  const Snapshot& snapshot;
  const TrafficFeed& traffic;
  const std::vector<faults::InForce::Entry>& in_force;
  const Recovery& recovery;
  bool blind = false;   ///< blind mode is on
  bool hidden = false;  ///< and this is for a watcher: without what tells of faults
};

/// The state of a bench at one instant as JSON. `type`: what kind of message it is; empty: none.
[[nodiscard]] std::string state_json(const StateParts& parts, std::string_view type = {});

}  // namespace emberline::io

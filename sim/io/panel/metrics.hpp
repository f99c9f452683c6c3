#pragma once

#include <string>

#include "sim/io/panel/snapshot.hpp"
#include "sim/io/panel/traffic_feed.hpp"

namespace emberline::io {

/// What metrics are told from.
struct MetricsParts {
  const BenchFacts& facts;
  const Snapshot& snapshot;
  const TrafficFeed& traffic;
  const std::string& version;
};

/// A bench as metrics in Prometheus' text format 0.0.4 (prometheus.io, "Exposition formats"), in base units.
[[nodiscard]] std::string metrics_text(const MetricsParts& parts);

}  // namespace emberline::io

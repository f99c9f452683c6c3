#pragma once

#include <cstdint>

#include "sim/io/panel/traffic_feed.hpp"
#include "sim/io/report/json_text.hpp"

namespace emberline::io {

/// "frames":[...]: those after number `after`, at most `limit` of them, the newest; each decoded field by
/// field.
void put_frames(JsonText& json, const BenchFacts& facts, const TrafficFeed& traffic, std::uint64_t after,
                std::size_t limit);

}  // namespace emberline::io

#pragma once

#include <cstdint>

#include "sim/io/panel/traffic_feed.hpp"
#include "sim/io/report/json_text.hpp"

namespace emberline::io {

/// Which frames are told of, and when.
struct FramesWanted {
  std::uint64_t after = 0;  ///< those behind this number
  std::uint64_t last = 0;   ///< up to this one
  std::size_t limit = 0;    ///< at most so many, the newest
  SimTime now;
};
/// "frames":[...], each decoded field by field.
void put_frames(JsonText& json, const BenchFacts& facts, const TrafficFeed& traffic,
                const FramesWanted& wanted);

}  // namespace emberline::io

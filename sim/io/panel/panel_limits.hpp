#pragma once

#include <chrono>
#include <cstddef>

namespace emberline::io {

// How much a visitor of the panel may ask for. All of it is far above what the page and a test rig need.
inline constexpr std::size_t kLongestHeader = 8 * 1024;  ///< bytes of a request's line and header fields
inline constexpr std::size_t kLongestTarget = 4 * 1024;  ///< bytes of a path with its query
inline constexpr std::size_t kMostQueryKeys = 16;        ///< in one query
inline constexpr std::size_t kLongestBody = 16 * 1024;   ///< bytes of a request's body
inline constexpr std::size_t kMostConnections = 128;     ///< in all, those of pages included
/// Connections of one other machine (one network of IPv6) on which no token was shown yet.
inline constexpr std::size_t kMostStrangers = 32;
/// Of all connections, those that only this machine gets: its trainer is let in whoever else is there.
inline constexpr std::size_t kKeptForThisMachine = 16;
inline constexpr std::size_t kMostTurnedAway = 32;  ///< beyond them, while they read why
inline constexpr std::size_t kMostPassedOver =
    256 * 1024;  ///< bytes that are thrown away while a refusal is read
inline constexpr std::size_t kLongestMessage = 4 * 1024;  ///< bytes of what a page says over its WebSocket
inline constexpr double kMessagesPerSecond = 20.0;        ///< of one page, pings included
inline constexpr std::size_t kMostTextsWaiting = 8;       ///< texts that one page has not fetched yet
inline constexpr std::size_t kMostWaitingBytes =
    256 * 1024;                                      ///< of them together; a single one may be longer
inline constexpr double kTokenTriesPerSecond = 5.0;  ///< wrong tokens, of all visitors together
inline constexpr std::size_t kMostSessions = 256;    ///< of either role; the oldest of the same role goes

/// How long a visitor is waited for, in wall time.
struct PanelPatience {
  std::chrono::milliseconds request{10'000};  ///< for a whole header, a whole body, the next request
  std::chrono::milliseconds answer{60'000};   ///< until an answer has been fetched
  std::chrono::milliseconds site{10'000};     ///< for the bench behind the panel
  std::chrono::milliseconds parting{1'000};   ///< for a visitor to read why the connection ends
};

}  // namespace emberline::io

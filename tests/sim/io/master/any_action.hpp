#pragma once

#include <array>
#include <sstream>
#include <string>

#include "sim/base/random.hpp"

namespace emberline::io {

/// As `tell` takes them; words in capitals are drawn. Those that make bad frames stand here more than once.
inline constexpr std::array kActions{
    "cut LINE way WAY",
    "drop_requests LINE share SHARE",
    "drop_answers LINE share SHARE",
    "delay LINE by DELAY jitter DELAY way WAY",
    "truncate LINE share SHARE",
    "truncate LINE keep BYTES share SHARE",
    "repeat_answer LINE share SHARE",
    "late_answer LINE share SHARE",
    "wrong_id LINE as ID share SHARE",
    "bit_errors field rate RATE way WAY",
    "bit_errors field rate RATE",
    "bit_errors field rate RATE way to-units",
    "noise field bytes BYTES share SHARE way WAY",
    "noise field bytes BYTES share SHARE",
    "noise field bytes BYTES share SHARE way to-units",
    "echo field",
    "collision field id ID",
    "tcp_reset ethernet",
    "tcp_refused ethernet",
    "tcp_silent ethernet",
    "half_open ethernet",
    "stuck_busy UNIT",
};

/// What stands for a word in capitals.
inline std::string drawn(const std::string& word, Random& chance) {
  const auto from_1_to = [&](std::uint64_t most) { return std::to_string(1 + chance.below(most)); };
  if (word == "LINE") return chance.below(2) == 0 ? "field" : "ethernet";
  if (word == "UNIT") return chance.below(2) == 0 ? "north" : "south";
  if (word == "WAY") return std::array{"both", "to-units", "to-masters"}.at(chance.below(3));
  if (word == "SHARE") return from_1_to(100) + " %";
  if (word == "DELAY") return from_1_to(200) + " ms";
  if (word == "BYTES") return from_1_to(20);
  if (word == "ID") return from_1_to(3);  // 3 is nobody's
  if (word == "RATE") return "0.0" + from_1_to(99);
  return word;
}

/// An action with everything drawn, half of them with an end of their own.
inline std::string any_action(Random& chance) {
  std::string text;
  std::istringstream words(kActions.at(chance.below(kActions.size())));
  for (std::string word; words >> word;) text += (text.empty() ? "" : " ") + drawn(word, chance);
  const bool lasts = !text.starts_with("tcp_reset");
  if (lasts && chance.below(2) == 0) text += " for " + std::to_string(1 + chance.below(3000)) + " ms";
  return text;
}

}  // namespace emberline::io

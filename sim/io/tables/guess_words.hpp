#pragma once

#include <string>
#include <string_view>

namespace emberline::io {

/// A name in words that can be compared: "Load Curr. L1 (RMS)" and "L1 load current" are the same.
struct NameWords {
  std::string key;       ///< what is left, in alphabetical order, with blanks between
  int phase = 0;         ///< 1 to 3; 0: of no phase
  bool warning = false;  ///< it speaks of a warning or an alarm
  bool trip = false;     ///< it speaks of a trip, a fault or an error
  bool failure = false;  ///< it speaks of a failure, which a trip is and a warning may be of
};

/// Takes a name apart: at blanks, punctuation, digits and capitals behind small letters; usual abbreviations
/// and other words for the same thing (common practice, no source) become one, words that tell nothing are
/// left out. A phase is l1 to l3, "phase 1", or a 1 to 3 at the end.
[[nodiscard]] NameWords name_words(std::string_view name);

/// The key without one of its words.
[[nodiscard]] std::string without_word(const std::string& key, std::string_view word);

}  // namespace emberline::io

#pragma once

#include <array>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/listed.hpp"
#include "sim/registers/point.hpp"

namespace emberline::io {

/// The warnings and trips that units raise now. Register tables may place the others already; a relay or an
/// expectation that waits for one would look as if it watched something.
inline constexpr std::array kRaisedWarnings{
    registers::Warning::comms_loss,    registers::Warning::supply_absent,
    registers::Warning::current_limit, registers::Warning::voltage_limit,
    registers::Warning::power_limit,   registers::Warning::request_overload};
inline constexpr std::array kRaisedTrips{registers::Trip::comms_loss};

/// Of the words of warnings or of trips those that are raised now; of other words all.
[[nodiscard]] std::vector<std::string> raised_words(std::span<const registers::Word> words);

/// The word of `known` that `word` was most likely meant to be, or nothing. Bounded, however long the word
/// is.
[[nodiscard]] std::string_view nearest_word(std::string_view word, const std::vector<std::string>& known);

/// "unknown KIND 'WORD', did you mean 'NEAR'?", or, when nothing is near, "unknown KIND 'WORD'; known: ...".
[[nodiscard]] std::string unknown(std::string_view kind, std::string_view word,
                                  const std::vector<std::string>& known);

/// "'WORD' is not there yet; known now: ...", for what these files will be able to say one day.
[[nodiscard]] std::string not_there_yet(std::string_view word, const std::vector<std::string>& known);

}  // namespace emberline::io

#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "sim/rehearsal/conduct.hpp"
#include "sim/rehearsal/conduct_judge.hpp"

namespace emberline::rehearsal {

/// Whether a number that can only grow satisfies the condition, now and however far it grows: yes, no, or
/// nothing if that is still open.
[[nodiscard]] std::optional<bool> settled(const Condition& condition, double value);
/// The same as a result: passed or failed.
[[nodiscard]] std::optional<Outcome::Result> settled_as(const Condition& condition, double value);

/// "at most 3 writes", "1 write", "between 2 and 4 writes", "any number of writes but 1".
[[nodiscard]] std::string counted(const Condition& condition, std::string_view one, std::string_view many);
/// "there was none", "there was 1", "there were 3".
[[nodiscard]] std::string there_were(std::uint64_t count);
/// "the 1st", "the 22nd".
[[nodiscard]] std::string the_nth(std::uint64_t number);
/// "nobody wrote soak-heater.setpoint", or "plc never wrote it" where only the one that `by` names counts.
[[nodiscard]] std::string nobody_did(const Conduct& conduct, bool named, std::string_view did);
/// "s", "min" or "h"; else "20 s".
[[nodiscard]] std::string per_words(Duration window);

/// A write as it is remembered.
struct WriteNote {
  SimTime at;
  double asked = 0.0;
  std::string text;  ///< "50 % (refused) by plc at 16 s"
};
[[nodiscard]] WriteNote note_of(const unit::WriteSeen& write);
/// Whether a write is of the point that `conduct` speaks of.
[[nodiscard]] bool is_of_point(const Conduct& conduct, const bench::BenchSpec& bench,
                               const unit::WriteSeen& write);

}  // namespace emberline::rehearsal

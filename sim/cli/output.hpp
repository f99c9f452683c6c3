#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "sim/io/files/load.hpp"
#include "sim/io/line/wall_bench.hpp"

namespace emberline::cli {

/// Prints to standard output; results go there.
void print(std::string_view text);
/// True if all that was printed so far has gone where standard output leads: a full disk takes nothing.
[[nodiscard]] bool output_complete();
/// One line to standard error: "emberline: ..." for what is not tied to a file.
void complain(std::string_view message);
/// Every problem on a line of its own, to standard error.
void complain(const io::Problems& problems);
/// True when `stream` (a descriptor; standard output) is a terminal that can do more than print, and NO_COLOR
/// is not set.
[[nodiscard]] bool colour_wanted(int stream = 1);
/// True when `stream` is a terminal that can rewrite a line.
[[nodiscard]] bool rewriting_possible(int stream = 1);
/// Where masters find a line: a terminal's path, or HOST:PORT.
[[nodiscard]] std::string place_of(const io::OpenLine& line);
/// An answer of a running bench, broken where it has tabs.
[[nodiscard]] std::string with_line_breaks(std::string answer);
/// A whole number from 0 up as a seed; otherwise one line is complained.
[[nodiscard]] std::optional<std::uint64_t> seed_of(const std::string& text);
/// A whole number from 0 up, without sign; nothing if it is none or does not fit.
[[nodiscard]] std::optional<std::uint64_t> whole_number(std::string_view text);
/// What to bear in mind when the plant runs so many times as fast.
[[nodiscard]] std::string plant_speed_caution(double plant_speed);
/// A short reminder of what a simulation proves and what it does not.
[[nodiscard]] std::string_view cautions();

}  // namespace emberline::cli

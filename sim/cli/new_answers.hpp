#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "sim/base/serial_format.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/registers/address.hpp"
#include "sim/registers/point.hpp"

namespace emberline::cli {

/// What `emberline new` has to know of an installation.
struct Answers {
  /// How masters get in.
  enum class Way { pty, serial_port, tcp };

  std::string name;
  double voltage_V = 0.0;  ///< line to line on three phases
  bool three_phase = true;
  double frequency_Hz = 0.0;
  int units = 1;
  double rating_A = 0.0;  ///< of each unit
  Way way = Way::pty;
  std::string line;  ///< a path, or HOST:PORT
  SerialFormat serial;
  registers::Policy policy = registers::Policy::latch_to_inhibit;
  Duration timeout{};   ///< whole milliseconds
  double preset = 0.2;  ///< share of full scale; for go-to-preset
  int id = 1;           ///< of the first unit; the others count up from it
  registers::Numbering numbering = registers::Numbering::zero_based;

  /// RMS across one leg of a load in star, or across the only one.
  [[nodiscard]] double leg_voltage_V() const;
  [[nodiscard]] int phases() const { return three_phase ? 3 : 1; }
  /// How long a PLC needs to ask every unit once for two registers.
  [[nodiscard]] Duration polling_round() const;
  /// The period in which the stand-in of the first scenario polls: a third of the timeout at most, 2 s at
  /// most, and twice a polling round at least. Nothing when the line is too slow for that.
  [[nodiscard]] std::optional<Duration> polling_period() const;
};

/// One answer: a flag, or a part of a question.
struct Field {
  std::string_view flag;      ///< "--voltage"
  std::string_view fallback;  ///< the answer of whoever only presses Enter
  std::string_view help;
  /// Takes an answer; gives what is wrong with it, or nothing.
  std::string (*take)(const std::string& text, Answers& answers);
  /// Why it has no place beside the other answers, or nothing.
  std::string_view (*why_not)(const Answers& answers);
};

/// A question and the answers it asks for, separated by commas.
struct Question {
  std::string_view text;
  std::size_t first;                             ///< index of its first field
  std::size_t count;                             ///< of its fields
  std::string (*check)(const Answers& answers);  ///< what is wrong with the answers together, or nothing
};

inline constexpr std::size_t kFieldCount = 13;
[[nodiscard]] std::span<const Field> fields();
[[nodiscard]] std::span<const Question> questions();

}  // namespace emberline::cli

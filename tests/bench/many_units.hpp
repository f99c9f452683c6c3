#pragma once

#include <string>
#include <vector>

namespace emberline::speed {

/// A bench of many units for `serve`, each with a zone of its own, spread evenly over lines.
struct ManyUnits {
  int units = 1;
  int lines = 1;  ///< every tenth is a pseudo-terminal, the others are TCP; one has 247 units at most
  std::string mode = "phase-angle";        ///< as `firing` has it
  std::string connection = "star-4-wire";  ///< as `load` has it
  bool one_source = false;                 ///< behind an impedance, so that each unit sees the others
  bool walls = false;                      ///< each zone behind a wall of three layers
};

/// True for lines that are pseudo-terminals.
[[nodiscard]] constexpr bool is_pty(int line) { return line % 10 == 9; }
/// Name of a line, from 0 on, and the unit id by which the unit `unit` (from 0 on) answers on its line, which
/// is number `unit % lines`.
[[nodiscard]] std::string line_name(int line);
[[nodiscard]] constexpr int id_of(int unit, int lines) { return unit / lines + 1; }

/// Writes the bench with its register table (sixteen-live.yaml) into a folder that is there. Returns its
/// files: one, or where that would be larger than a bench file may be, several of which each is a bench of
/// its own with a share of the lines, and the names of none is in another. Ends the program if it cannot
/// write.
std::vector<std::string> write_many_units(const ManyUnits& wanted, const std::string& folder);

}  // namespace emberline::speed

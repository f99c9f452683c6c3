#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "sim/io/files/table_mapping_file.hpp"
#include "sim/io/tables/guess_point.hpp"
#include "sim/io/tables/import_cells.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// What an enumeration or a list of bits says in words of ours.
struct LabelsRead {
  std::map<int, int> numbers;        ///< our number or bit -> the one carried
  bool guessed = false;              ///< a label is not our own word
  std::vector<std::string> remarks;  ///< labels that are none of ours, and numbers given to words without one
};

/// The entries of an enumeration of `point`. A word of ours that the table has no number for keeps its own,
/// or gets the next that is free up to `highest`. The error: there is no room for these.
[[nodiscard]] Result<LabelsRead, std::string> read_values(const std::vector<Labelled>& entries,
                                                          registers::Point point, double highest,
                                                          const TableMapping& mapping);

/// The entries of a list of bits that are flags of `point` (warnings or trips).
[[nodiscard]] LabelsRead read_flags(const std::vector<Labelled>& entries, registers::Point point,
                                    const TableMapping& mapping);

/// What one bit by this name is: a warning or trip, or a point that is on or off. `of`: the register's name.
[[nodiscard]] PointGuess guess_bit(const std::string& name, const std::string& of,
                                   const TableMapping& mapping);

/// True if a list without explicit bits is one of masks in hexadecimal that no enumeration by the name of
/// `guess` fits better.
[[nodiscard]] bool is_list_of_masks(const std::vector<Labelled>& entries, const PointGuess& guess,
                                    const std::string& of, const TableMapping& mapping);

/// Numbers of bits where a list of flags of `point` has masks instead: 1, 2, 4, 8, if `decimal`, and 0x0008
/// in any case. The error: hexadecimal numbers that may be those of bits as well.
[[nodiscard]] Result<Done, std::string> masks_to_bits(std::vector<Labelled>& entries, registers::Point point,
                                                      bool decimal, const TableMapping& mapping);

}  // namespace emberline::io

#pragma once

#include <string>
#include <vector>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/node.hpp"
#include "sim/io/files/register_row.hpp"

namespace emberline::io {

// Readers of parts of a row. Each asks `fields` for its keys, or refuses those that the row cannot have, and
// complains about what cannot be used.

/// True for coils and discrete inputs.
[[nodiscard]] bool of_bits(modbus::Table table);

/// `as:`; false, after a complaint, if it is no type. Without it bit in bit tables, else u16.
bool read_type_of_row(Fields& fields, registers::Row& row, Problems& problems);
/// `bit`, `mask`, `registers`, `coding`, `write_mask`, word and byte order, `split`: how a value stands in
/// its registers. Needs the type.
void read_place_in_registers(Fields& fields, const RowDefaults& defaults, registers::Row& row,
                             Problems& problems);
/// `fixed:`, a number or characters. Needs the type.
void read_fixed(const Node& node, registers::Row& row, Problems& problems);

/// `values`, `flags` and `flag`: words of the point renumbered. Needs the type, and `bits` its mask.
void read_words(Fields& fields, const registers::PointInfo& info, const RowDefaults& defaults,
                registers::Row& row, Problems& problems);

/// Names of words, for complaints.
[[nodiscard]] std::vector<std::string> names_of(std::span<const registers::Word> words);

}  // namespace emberline::io
